"""Places on the earth on their way to receivers and map programs: WGS 84, degrees, nothing of the job."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class EarthPlace:
    """A point with its latitude and longitude."""

    name: str
    kind: str
    """stake, pin, benchmark, tree, corner or other."""
    lat_deg: float
    lon_deg: float
    sd_m: float | None
    """One standard deviation of the place, the longer half-axis of its ellipse; None where the points that
    tie it are held without one: how exact they are nobody said."""
    above_sea_m: float | None
    """Orthometric height, None where no such heights tie the site."""
    above_ellipsoid_m: float | None
    """Ellipsoidal height, None likewise."""
    words: str
    """What stands there, for people."""
    numbers: tuple[tuple[str, float], ...]
    """For programs, metres: site coordinates and lengths."""

    @property
    def described(self) -> str:
        """Return what stands there and how sure its place is."""
        if self.sd_m is None:
            return f"{self.words}; how exactly it is placed on the earth is not known"
        return f"{self.words}; placed to {self.sd_m:.3f} m (one standard deviation)"


@dataclass(frozen=True, slots=True, kw_only=True)
class EarthOutline:
    """A closed outline, counter-clockwise; the first corner is not repeated."""

    name: str
    kind: str
    lat_lon_deg: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EarthModel:
    """Everything that has latitude and longitude."""

    title: str
    facts: tuple[tuple[str, str], ...]
    """What the file says of itself."""
    remarks: tuple[str, ...]
    """Sentences that go with it: how sure the places are, what to heed."""
    places: tuple[EarthPlace, ...]
    outlines: tuple[EarthOutline, ...]
