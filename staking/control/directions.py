"""True, magnetic and grid north brought to the north of the site's axes."""

from __future__ import annotations

from dataclasses import dataclass, field

from staking.base.errors import Mistake
from staking.book.records import FieldBook, North
from staking.book.site_north import axes_north_rad


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What to add to a bearing from some north so that it counts from the site's north axis."""

    angle_rad: float
    sd_rad: float


@dataclass(slots=True, kw_only=True)
class Norths:
    """The turns of one survey, worked out when first asked for; mistakes are collected.

    The site's north is true north; with control points on a map grid (`control.csv` and ``[site] grid``) it
    is that grid's north.
    """

    book: FieldBook
    mistakes: list[Mistake] = field(default_factory=list)
    known: dict[North, Turn] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)
    """How each north was turned: sides in words, and of magnetic north its date, accuracy and last day."""

    def turn(self, north: North, *, file: str, row: int | None, column: str) -> Turn | None:
        """Return the turn of a north, None after noting what is missing for it."""
        if north not in self.known:
            turn = self._turn(north, file=file, row=row, column=column)
            if turn is None:
                return None
            self.known[north] = turn
        return self.known[north]

    def _turn(self, north: North, *, file: str, row: int | None, column: str) -> Turn | None:
        if north == ("grid" if self.book.on_grid else "true"):
            return Turn(angle_rad=0.0, sd_rad=0.0)
        site = self.book.job.site
        lacking = [
            key
            for key, value, wanted in (
                ("site.latitude", site.latitude_rad, not self.book.on_grid or north == "magnetic"),
                ("site.longitude", site.longitude_rad, not self.book.on_grid or north == "magnetic"),
                ("site.date", site.date, north == "magnetic"),
                ("site.grid", site.grid, north == "grid"),
            )
            if wanted and value is None
        ]
        if lacking:
            self.mistakes.append(
                Mistake(
                    file=file,
                    row=row,
                    column=column,
                    read=north,
                    problem=f"{north} north cannot be brought to the site's north",
                    remedy=f"Give {', '.join(lacking)} in job.toml, or write bearings from true north.",
                )
            )
            return None
        try:
            return self._computed(north)
        except ValueError as error:
            # Outside the magnetic model's years, or a grid that is none.
            self.mistakes.append(Mistake(file=file, row=row, column=column, read=north, problem=str(error)))
            return None

    def _computed(self, north: North) -> Turn:
        site = self.book.job.site
        angle_rad = sd_rad = 0.0
        if north == "magnetic":
            from staking.north.declination import declination_rad
            from staking.north.words import declination_words

            assert site.latitude_rad is not None
            assert site.longitude_rad is not None
            assert site.date is not None
            declination = declination_rad(site.latitude_rad, site.longitude_rad, site.date)
            angle_rad, sd_rad = declination.declination_rad, declination.sd_rad
            self.told.append(declination_words(declination, site.date))
        if north == "grid" or self.book.on_grid:
            from staking.north.convergence import grid_convergence_rad
            from staking.north.words import convergence_words

            assert site.grid is not None
            # Convergence is the azimuth of grid north from true north: true = grid + convergence.
            if self.book.on_grid:
                convergence = axes_north_rad(self.book)
                angle_rad -= convergence
            else:
                assert site.latitude_rad is not None
                assert site.longitude_rad is not None
                convergence = grid_convergence_rad(site.grid, site.latitude_rad, site.longitude_rad)
                angle_rad += convergence
            self.told.append(convergence_words(site.grid, convergence))
        return Turn(angle_rad=angle_rad, sd_rad=sd_rad)
