"""The list that was sawn from, held against the design as it is now: what is done, and what pipe is left."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from staking.base.errors import Mistake
from staking.base.units import Style
from staking.book.nearest import did_you_mean
from staking.book.records import Pipe, SawnRow, Stock
from staking.pipes.beam_rows import rows_that_make_up
from staking.pipes.cutlist import BeamToCut, CutPiece, Piece
from staking.pipes.cutting import same_pipe
from staking.pipes.task import THREADS

FILE = "sawn.csv"
SAME_M = 0.0005
"""A piece whose length or stick differs by less is not told as changed: half a millimetre."""
FITS_M = 1e-5
"""What the rounding of typed lengths may overfill a stick by, a hundredth of a millimetre."""
LEFT_OFF_M = 0.02
"""Sticks come a little longer than they are called, and tapes err: so much more may be left of one."""
Show = Callable[[float], str]
Use = Literal["post", "beam", "both"]


@dataclass(slots=True, kw_only=True)
class Left:
    """Pipe that is left of one stick, in one length."""

    stick: str
    """Empty for pipe that was on no list."""
    length_m: float
    pipe: str
    use: Use = "both"
    """``post`` or ``beam`` where the stock keeps the stick for these."""
    ends_known: bool = True
    """What is left follows from the list; of a length that was told nobody knows where its threads went."""
    threads: int = 2
    """How many of its ends have a thread, where joints are threaded; of a told length none that is known."""
    first_end_sawn: bool = False
    kept: list[CutPiece] = field(default_factory=list)

    def room_m(self, kerf_m: float) -> float:
        """Return what is still free, a kerf with every piece."""
        return self.length_m + kerf_m - sum(piece.length_m + kerf_m for piece in self.kept)


def key_of_piece(name: str) -> str:
    """Return a piece's or a stick's name without regard to case and blanks."""
    return " ".join(name.split()).casefold()


def before(stick: str) -> str:
    """Return what a stick was called before its length was told; a list cut again keeps what it gave so."""
    return f"{stick} before"


def never_sawn(row: SawnRow) -> bool:
    """Whether a row of what is left is a whole stick, as a list cut again holds one that it does not need."""
    return row.stock_m is not None and row.length_m is not None and abs(row.length_m - row.stock_m) <= FITS_M


NO_STICK = "left"
"""Sticks of a list cut again that were on no list are called so, and ``left b``, ``left c`` …"""


class SawnList:
    """The list that was sawn from, against the design as it is now."""

    def __init__(
        self,
        rows: Sequence[SawnRow],
        posts: Sequence[Piece],
        beams: Sequence[BeamToCut],
        pipe: Pipe,
        show: Show,
        style: Style,
    ) -> None:
        self.rows, self.pipe, self.show, self.style = rows, pipe, show, style
        self.posts = {key_of_piece(post.name): post for post in posts}
        self.beams = {key_of_piece(beam.name): beam for beam in beams}
        self.pipes = list(dict.fromkeys([*(p.pipe for p in posts), *(b.pipe for b in beams)]))
        """Those of posts first, each once."""
        self.mistakes: list[Mistake] = []
        self.warnings: list[str] = []
        self.listed: dict[str, SawnRow] = {}
        """By piece: its row that is not spoilt, else the last one."""
        self.old_joints: dict[str, tuple[float, ...]] = {}
        self.done: dict[str, CutPiece] = {}
        self._read()
        if not self.mistakes:
            self._joints()
        self.left = [] if self.mistakes else self._left()
        self.priced = all(stock.price is not None for stock in pipe.stock)

    def _wrong(self, row: SawnRow, column: str, problem: str, remedy: str | None = None) -> None:
        read = row.read.get(column)
        self.mistakes.append(
            Mistake(file=FILE, row=row.row, column=column, read=read, problem=problem, remedy=remedy)
        )

    def beam_of(self, piece: str) -> tuple[str, int] | None:
        """Return the beam's key and the number of one of its pieces."""
        head, _, number = piece.rpartition(" ")
        if key_of_piece(head) in self.beams and number.isdecimal() and int(number) > 0:
            return key_of_piece(head), int(number)
        return None

    def _read(self) -> None:
        names = [post.name for post in self.posts.values()]
        names += [f"{beam.name} 1" for beam in self.beams.values()]
        stocks: dict[str, SawnRow] = {}
        taken: dict[str, float] = {}
        for row in self.rows:
            if row.pipe is not None and not any(same_pipe(row.pipe, name) for name in self.pipes):
                self._wrong(
                    row, "pipe", "no post or beam is of this pipe", did_you_mean(row.pipe, self.pipes)
                )
            if row.piece is None:
                continue
            key = key_of_piece(row.stick or "")
            taken[key] = taken.get(key, -self.pipe.kerf_m) + (row.length_m or 0.0) + self.pipe.kerf_m
            if taken[key] > (row.stock_m or 0.0) + FITS_M:
                told = self.show(row.stock_m or 0.0)
                self._wrong(
                    row, "length", f"the pieces of stick {row.stick} are longer together than its {told}"
                )
            key = key_of_piece(row.piece)
            if key not in self.posts and self.beam_of(row.piece) is None:
                self._wrong(
                    row, "piece", "no post or piece of a beam has this name", did_you_mean(row.piece, names)
                )
                continue
            earlier = self.listed.get(key)
            if earlier is not None and earlier.state != "spoilt" and row.state != "spoilt":
                self._wrong(row, "piece", f"row {earlier.row} has it already", "Keep one of the rows")
            if earlier is None or earlier.state == "spoilt":
                self.listed.pop(key, None)  # Pieces stand in the order of their rows.
                self.listed[key] = row
            if row.hole_depth_m is not None and key not in self.posts:
                self._wrong(row, "hole_depth", "a beam has no hole", "Write it beside the post")
            first = stocks.setdefault(key_of_piece(row.stick or ""), row)
            if first.stock_m != row.stock_m:
                self._wrong(row, "stock", f"another length than in row {first.row} for the same stick")
        self._check_left(stocks)
        lists = [self.beam_of(key) for key in self.listed]
        beams = {one[0] for one in lists if one is not None}
        lacking = [post.name for key, post in self.posts.items() if key not in self.listed]
        lacking += [beam.name for key, beam in self.beams.items() if key not in beams]
        if lacking and not self.mistakes:
            self.warnings.append(
                f"sawn.csv has no row of {', '.join(lacking)}: cut as if never listed, from pipe that is "
                "left or bought; if they were on the list, copy all of its rows"
            )

    def _check_left(self, stocks: Mapping[str, SawnRow]) -> None:
        """Refuse more pipe left of a stick than it can have: its length less what was sawn from it.

        And what is left of a stick that is on no list.
        """
        listed = {key_of_piece(row.stick) for row in self.rows if row.stick and row.piece}
        for row in self.rows:
            key = key_of_piece(row.stick or "")
            of_none = row.piece is None and row.stock_m is None and key not in listed
            if key and of_none and not self.was_told(key):
                self._wrong(
                    row,
                    "stick",
                    "no piece on the list is from a stick of this number",
                    "An offcut from elsewhere has none: leave it blank",
                )
        can = {key: first.stock_m or 0.0 for key, first in stocks.items()}
        for row in self.rows:
            key = key_of_piece(row.stick or "")
            if key in can and row.piece is not None and row.state == "sawn":
                can[key] -= row.length_m or 0.0
        for row in self.rows:
            key = key_of_piece(row.stick or "")
            if key in can and row.piece is None:
                can[key] -= row.length_m or 0.0
                if can[key] < -LEFT_OFF_M:
                    most = max(0.0, can[key] + (row.length_m or 0.0))
                    self._wrong(
                        row,
                        "length",
                        f"stick {row.stick} cannot have more than {self.show(most)} left",
                        "Without the stick's number it is an offcut from elsewhere",
                    )

    def _joints(self) -> None:
        """Find where the listed pieces' joints stand; sawn pieces of a beam must be of this design."""
        rows: dict[str, dict[int, list[SawnRow]]] = {}
        for row in self.rows:
            found = self.beam_of(row.piece or "")
            if found is not None:
                rows.setdefault(found[0], {}).setdefault(found[1], []).append(row)
        make_up = self.pipe.make_up_m if self.pipe.joint == "threaded" else 0.0
        for key, some in rows.items():
            beam = self.beams[key]
            mine = rows_that_make_up(some, beam.length_m, make_up_m=make_up, within_m=SAME_M)
            if mine is None:
                every = [row for number in sorted(some) for row in some[number]]
                if any(row.state == "sawn" for row in every):
                    self._wrong(
                        every[0],
                        "piece",
                        f"the pieces of {beam.name} do not make up its {self.show(beam.length_m)}",
                        "List every piece of a beam of which one is sawn",
                    )
                continue
            for number in some:
                if number > len(mine):
                    self.listed.pop(f"{key} {number}", None)
            self.listed |= {f"{key} {k}": row for k, row in enumerate(mine, start=1)}
            lengths = [row.length_m or 0.0 for row in mine]
            at, joints = 0.0, []
            for length in lengths[:-1]:
                at += length + make_up / 2
                joints.append(at)
                at += make_up / 2
            self.old_joints[key] = tuple(joints)

    def spare(self) -> list[Stock]:
        """Return the stock less the sticks that the list was sawn from, those on hand taken first."""
        return self._from_stock()[0]

    def _from_stock(self) -> tuple[list[Stock], dict[str, Use]]:
        """Return the stock less the sticks of the list, and for what use each of these is kept, by its key.

        A line that names no pipe holds its sticks of each size. Those on hand are taken first, and of these
        the ones that serve for the least.
        """
        lines = [
            replace(one, pipe=name)
            for one in self.pipe.stock
            for name in ([one.pipe] if one.pipe is not None or one.count is None else self.pipes)
        ]
        on_list: dict[str, list[SawnRow]] = {}
        for row in self.rows:
            key = key_of_piece(row.stick or "")
            if row.stick and not self.was_told(key) and (row.piece is not None or row.stock_m is not None):
                on_list.setdefault(key, []).append(row)
        kept_for: dict[str, Use] = {}
        for key, rows in on_list.items():
            uses = {"post" if key_of_piece(row.piece) in self.posts else "beam" for row in rows if row.piece}
            pipe = self.pipe_of(rows[0])
            fit = [
                k
                for k, one in enumerate(lines)
                if one.count != 0
                and abs(one.length_m - (rows[0].stock_m or 0.0)) <= FITS_M
                and (one.pipe is None or same_pipe(one.pipe, pipe))
                and (one.use == "both" or uses <= {one.use})
            ]
            if fit:
                k = min(fit, key=lambda k: (lines[k].count is None, lines[k].use == "both"))
                kept_for[key] = lines[k].use
                count = lines[k].count
                if count is not None:
                    lines[k] = replace(lines[k], count=count - 1)
        return [one for one in lines if one.count != 0], kept_for

    def was_told(self, key: str) -> bool:
        """Return whether a stick of a list cut again is a length of pipe that was told then."""
        twin = key_of_piece(before(key))
        return key.split(" ")[0] == NO_STICK or any(
            key_of_piece(row.stick or "") == twin for row in self.rows
        )

    def pipe_of(self, row: SawnRow) -> str:
        """Return the pipe of a row: as told, else that of its piece, else the only one."""
        if row.pipe is not None:
            return next((name for name in self.pipes if same_pipe(name, row.pipe)), row.pipe)
        if row.piece is not None:
            beam = self.beam_of(row.piece)
            return self.beams[beam[0]].pipe if beam is not None else self.posts[key_of_piece(row.piece)].pipe
        sticks = [other for other in self.rows if other.piece and other.stick == row.stick and row.stick]
        return self.pipe_of(sticks[0]) if sticks else self.pipes[0]

    def _left(self) -> list[Left]:
        """Return what is left of every stick, what is told of it before what follows from the list."""
        kerf, kept_for = self.pipe.kerf_m, self._from_stock()[1]
        told: dict[str, list[Left]] = {}
        every: list[Left] = []
        for row in self.rows:
            if row.piece is None and row.length_m is not None:
                whole = never_sawn(row)
                one = Left(
                    stick=row.stick or "",
                    length_m=row.length_m,
                    pipe=self.pipe_of(row),
                    use=kept_for.get(key_of_piece(row.stick or ""), "both"),
                    ends_known=whole,
                    threads=THREADS if whole else 0,
                )
                told.setdefault(key_of_piece(one.stick), []).append(one)
        sticks: dict[str, list[SawnRow]] = {}
        for row in self.rows:
            if row.piece is not None:
                sticks.setdefault(key_of_piece(row.stick or ""), []).append(row)
        for key, rows in sticks.items():
            gone = [row for row in rows if row.state is not None]
            for row in gone:
                if row.state == "sawn":
                    self._sawn(row)
            loose = self._loose(rows)
            if loose is not None:
                self.warnings.append(
                    f"stick {rows[0].stick}: {loose[1].piece} was sawn, but not {loose[0].piece}, which lies "
                    "before it: what is left counts as one length; if that came loose, mark it sawn or spoilt"
                )
            if key in told:
                every += told.pop(key)
                continue
            rest = (rows[0].stock_m or 0.0) - sum((row.length_m or 0.0) + kerf for row in gone)
            if rest > 0:
                every.append(
                    Left(
                        stick=rows[0].stick or "",
                        length_m=rest,
                        pipe=self.pipe_of(rows[0]),
                        use=kept_for.get(key, "both"),
                        ends_known=not self.was_told(key),
                        threads=0 if self.was_told(key) else self._threads_left(rows),
                        first_end_sawn=rows[0].state is not None,
                    )
                )
        return [one for one in [*every, *(one for some in told.values() for one in some)] if one.length_m > 0]

    def _threads_left(self, rows: Sequence[SawnRow]) -> int:
        """Return how many threaded ends a stick of the list has after what was sawn from it.

        A piece of a beam takes one with it, and posts sawn from an end that no such piece was sawn from.
        """
        gone = [row for row in rows if row.state is not None]
        if self._loose(rows) is not None:
            return 0
        of_beams = [row for row in gone if key_of_piece(row.piece or "") not in self.posts]
        from_posts = len(gone) > len(of_beams) and rows[0] not in of_beams
        return max(THREADS - len(of_beams) - from_posts, 0)

    def _loose(self, rows: Sequence[SawnRow]) -> tuple[SawnRow, SawnRow] | None:
        """Return a piece not told as sawn, and one after it on the stick that is: it must have come loose.

        The last piece may have been sawn from the far end.
        """
        from_first = rows[:-1] if len(rows) > 1 and self.threads_of(rows[-1].piece or "") else rows
        loose: SawnRow | None = None
        for row in from_first:
            if row.state is None:
                loose = loose or row
            elif loose is not None:
                return loose, row
        return None

    def _sawn(self, row: SawnRow) -> None:
        """Take a sawn piece as done, unless it is too short by now."""
        key, length = key_of_piece(row.piece or ""), row.length_m or 0.0
        post = self.posts.get(key)
        if post is not None and length < post.length_m - self.pipe.cut_allowance_m - SAME_M:
            short = self.show(post.length_m - self.pipe.cut_allowance_m - length)
            self.warnings.append(
                f"post {post.name} was sawn {self.show(length)} long, {short} too short by now"
            )
            return
        name = post.name if post is not None else " ".join((row.piece or "").split())
        self.done[key] = CutPiece(piece=name, length_m=length)

    def open_posts(self) -> list[Piece]:
        """Return the posts that are not sawn."""
        return [post for key, post in self.posts.items() if key not in self.done]

    def parts_of(self, key: str) -> list[tuple[str, float]]:
        """Return a beam's listed pieces by name, with their lengths."""
        beam, joints = self.beams[key], self.old_joints[key]
        make_up = self.pipe.make_up_m if self.pipe.joint == "threaded" else 0.0
        ends = [0.0, *joints, beam.length_m]
        last = len(ends) - 2
        return [
            (
                f"{beam.name} {k + 1}",
                ends[k + 1] - ends[k] - (make_up / 2 if k > 0 else 0.0) - (make_up / 2 if k < last else 0.0),
            )
            for k in range(last + 1)
        ]

    def begun(self, key: str) -> bool:
        """Return whether a piece of the beam is sawn, so that its joints stay."""
        return key in self.old_joints and any(
            key_of_piece(name) in self.done for name, _ in self.parts_of(key)
        )

    def threads_of(self, piece: str) -> int:
        """Return how many ends of a piece on the list lie in couplings: none of a post."""
        found = self.beam_of(piece)
        if self.pipe.joint != "threaded" or found is None:
            return 0
        joints = len(self.old_joints.get(found[0], ()))
        return (found[1] > 1) + (found[1] <= joints)
