"""Cutting again from what is left, after a piece is spoilt, a stick bent or a hole dug to another depth.

``sawn.csv`` is the list that was sawn from, with how each piece fared. What of a stick was not sawn or spoilt
is left of it, unless its real length is told. First only what lost its place is cut from what the others
leave; where cutting everything anew saves money or sticks, that is done instead.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from string import ascii_lowercase

from staking.base.errors import WrongInput
from staking.base.units import Style
from staking.book.records import Pipe, SawnRow, Stock
from staking.pipes.cutlist import Again, BeamToCut, CannotCut, CutList, CutPiece, Piece, Stick
from staking.pipes.cutting import drop_m, same_pipe
from staking.pipes.from_store import cut_from_store
from staking.pipes.sawn_list import FITS_M, NO_STICK, SAME_M, Left, SawnList, Show, Use, key_of_piece
from staking.pipes.task import THREADS, SawnStock, threads_on

ALIKE_M = 1e-9
"""Lengths of pipe nearer than this are one kind of stick."""


def cut_again(
    rows: Sequence[SawnRow],
    posts: Sequence[Piece],
    beams: Sequence[BeamToCut],
    pipe: Pipe,
    *,
    show: Show,
    style: Style = "metric",
) -> CutList:
    """Return what is still to be cut, from what is left and what can be bought.

    Parameters
    ----------
    rows
        Of ``sawn.csv``.
    posts, beams
        All of the design as it is now, hole depths as dug included.
    pipe
        As for the first cutting.
    show
        Prints a length.
    style
        Notation of lengths in the reasons why something cannot be cut.

    Raises
    ------
    WrongInput
        When the rows do not go with the design.
    CannotCut
        When what is left and what can be bought do not do.
    """
    job = _Job(rows, posts, beams, pipe, show, style)
    if job.mistakes:
        raise WrongInput(job.mistakes)
    gentle = _tried(job.gently)
    if gentle is not None and gentle.again is not None and gentle.again.to_buy == 0:
        return job.told(replace(gentle, proven=True, bound=min(gentle.count, job.fewest(gentle))))
    anew = _tried(job.anew)
    if anew is None:
        return job.told(job.gently() if gentle is not None else job.anew())  # The second says why not.
    if gentle is None:
        return job.told(anew)
    if (gentle.cost or 0.0) <= (anew.cost or 0.0) + 1e-6:
        return job.told(
            replace(
                gentle,
                proven=anew.proven,
                bound=min(gentle.count, anew.bound),
                cost_bound=min(gentle.cost or 0.0, anew.cost_bound or 0.0),
            )
        )
    return job.told(replace(anew, notes=(*anew.notes, job.few_changes(gentle, anew))))


def _tried(way: Callable[[], CutList]) -> CutList | None:
    try:
        return way()
    except CannotCut:
        return None


class _Job(SawnList):
    """Ways to cut what is open of the list."""

    def _single(self, name: str, length_m: float, key: str) -> BeamToCut:
        """Return one piece of a beam whose joints stay: a beam without a place for joints."""
        return BeamToCut(
            name=name,
            length_m=length_m,
            posts_m=(),
            rails_m=(),
            pipe=self.beams[key].pipe,
            threads=self.threads_of(name),
        )

    def _stock(self, lefts: Sequence[Left]) -> tuple[Stock, ...]:
        """Return what is left at no cost, and what can be bought."""
        kerf = self.pipe.kerf_m
        stock: list[Stock] = []
        for one in lefts:
            length = one.room_m(kerf) - kerf
            if length <= 0:
                continue
            use, threads = self._use(one), self._threads(one)
            same = next(
                (
                    k
                    for k, other in enumerate(stock)
                    if abs(other.length_m - length) < ALIKE_M
                    and (other.pipe, other.use, threads_on(other)) == (one.pipe, use, threads)
                ),
                None,
            )
            if same is not None:
                stock[same] = replace(stock[same], count=(stock[same].count or 0) + 1)
                continue
            stock.append(
                SawnStock(length_m=length, price=0.0, pipe=one.pipe, use=use, count=1, threads=threads)
            )
        for one_stock in self.spare():
            if one_stock.count is not None:
                stock.append(replace(one_stock, price=0.0))
                continue
            price = one_stock.price if self.priced else round(one_stock.length_m, 2)
            stock.append(replace(one_stock, price=price))
        return tuple(stock)

    def _threads(self, one: Left) -> int:
        """Return how many threaded ends are free of what is left; the first piece kept has the first end."""
        first = 0 if one.first_end_sawn or not one.kept else 1
        held = [self.threads_of(piece.piece) for piece in one.kept[first:]]
        return max(one.threads - first - sum(held), 0)

    def _use(self, one: Left) -> Use:
        """Return what a stick serves for: a threaded one without a free thread for posts alone."""
        return "post" if self.pipe.joint == "threaded" and not self._threads(one) else one.use

    def _taken(self, free: Sequence[Left], stick: Stick, threads: int) -> Left | None:
        """Return the pipe that is left for this stick, that which serves for the least first."""
        uses = {"post" if key_of_piece(p.piece) in self.posts else "beam" for p in stick.pieces}
        kerf = self.pipe.kerf_m
        fit = [
            one
            for one in free
            if same_pipe(one.pipe, stick.pipe)
            and abs(one.room_m(kerf) - kerf - stick.stock_m) < ALIKE_M
            and (self._use(one) == "both" or uses <= {self._use(one)})
            and self._threads(one) >= threads
        ]
        return min(fit, key=lambda one: (self._use(one) == "both", self._threads(one)), default=None)

    def told(self, cuts: CutList) -> CutList:
        """Return the list without the metres that stood for money where nothing has a price."""
        return cuts if self.priced else replace(cuts, cost=None, cost_bound=None)

    def fewest(self, cuts: CutList) -> int:
        """Return a number of sticks that no cutting of these pieces can go below, by length alone."""
        kerf = self.pipe.kerf_m
        need = sum(piece.length_m + kerf for stick in cuts.sticks for piece in stick.pieces)
        longest = max(
            [one.length_m for one in self.left] + [stock.length_m for stock in self.pipe.stock], default=0.0
        )
        return math.ceil(need / (longest + kerf) - 1e-6)

    def few_changes(self, gentle: CutList, anew: CutList) -> str:
        """Say what it would cost to leave every line that can stay."""
        more = (gentle.cost or 0.0) - (anew.cost or 0.0)
        costs = f"cost {more:.2f} more" if self.priced else f"take {self.show(more)} more pipe in sticks"
        changed = 0 if gentle.again is None else len(gentle.again.changed)
        lines = "only one line" if changed == 1 else f"only {changed} lines"
        return f"To leave every line that can stay would change {lines}, and {costs}"

    def gently(self) -> CutList:
        """Keep every piece that still fits where it was listed, and cut the others from what is left."""
        kerf = self.pipe.kerf_m
        for one in self.left:
            one.kept.clear()
        placed: set[str] = set()
        now = {key: post.length_m for key, post in self.posts.items()}
        for key in self.beams:
            if key in self.old_joints:
                now |= {key_of_piece(name): length for name, length in self.parts_of(key)}
        for key, row in self.listed.items():
            if key in self.done or row.state is not None or key not in now:
                continue
            threads = self.threads_of(row.piece or "")
            bits = [
                one
                for one in self.left
                if key_of_piece(one.stick) == key_of_piece(row.stick or "")
                and (one.ends_known or not threads)
            ]
            bit = next((one for one in bits if one.room_m(kerf) + FITS_M >= now[key] + kerf), None)
            if bit is not None:
                name = self.posts[key].name if key in self.posts else " ".join((row.piece or "").split())
                bit.kept.append(CutPiece(piece=name, length_m=now[key]))
                placed.add(key)
        posts = [post for post in self.open_posts() if key_of_piece(post.name) not in placed]
        beams, joints = [], {}
        for key, beam in self.beams.items():
            parts = self.parts_of(key) if key in self.old_joints else []
            missing = [
                (name, length)
                for name, length in parts
                if key_of_piece(name) not in placed and key_of_piece(name) not in self.done
            ]
            if parts and (not missing or self.pipe.joint != "threaded" or self.begun(key)):
                joints[beam.name] = self.old_joints[key]
                beams += [self._single(name, length, key) for name, length in missing]
                continue
            for one in self.left:
                one.kept[:] = [
                    piece
                    for piece in one.kept
                    if key_of_piece(piece.piece) not in {key_of_piece(n) for n, _ in parts}
                ]
            beams.append(beam)
        return self._made(posts, beams, joints)

    def anew(self) -> CutList:
        """Cut everything that is not sawn from what is left; beams that are begun keep their joints."""
        for one in self.left:
            one.kept.clear()
        beams, joints = [], {}
        for key, beam in self.beams.items():
            if not self.begun(key):
                beams.append(beam)
                continue
            missing = [
                (name, length) for name, length in self.parts_of(key) if key_of_piece(name) not in self.done
            ]
            joints[beam.name] = self.old_joints[key]
            beams += [self._single(name, length, key) for name, length in missing]
        return self._made(self.open_posts(), beams, joints)

    def _made(
        self, posts: list[Piece], beams: list[BeamToCut], joints: dict[str, tuple[float, ...]]
    ) -> CutList:
        """Cut these, and join them with the pieces that are kept in their sticks."""
        stock, uncut = self._uncut([one for one in beams if one.threads > 1], list(self._stock(self.left)))
        if posts or any(one.threads < 2 for one in beams):
            open_beams = [one for one in beams if one.threads < 2]
            found = cut_from_store(posts, open_beams, replace(self.pipe, stock=stock), style=self.style)
        else:
            found = CutList(sticks=(), joints_m={}, count=0, bound=0, cost=0.0, cost_bound=0.0, proven=True)
        paid = sum(stick.price or 0.0 for stick in uncut)
        found = replace(
            found,
            sticks=(*uncut, *found.sticks),
            bound=found.bound + len(uncut),
            cost=(found.cost or 0.0) + paid,
            cost_bound=(found.cost_bound or 0.0) + paid,
        )
        free = [one for one in self.left if one.room_m(self.pipe.kerf_m) > self.pipe.kerf_m]
        singles = {beam.name: beam.threads for beam in beams if not beam.posts_m}
        threads = [self._threads_in(stick, singles, found.joints_m) for stick in found.sticks]
        sticks = [self._renamed(stick, singles) for stick in found.sticks]
        more: dict[int, tuple[Stick, int]] = {}
        """What is sawn from each length of pipe that is left, and how many threads that takes."""
        matched = set()
        # Those that need threads choose first.
        for n in sorted(range(len(sticks)), key=lambda n: -threads[n]):
            unused = [one for one in free if id(one) not in more]
            match = self._taken(unused, sticks[n], threads[n]) if sticks[n].on_hand else None
            if match is not None:
                more[id(match)] = sticks[n], threads[n]
                matched.add(n)
        bought = [stick for n, stick in enumerate(sticks) if n not in matched]
        return self._list(found, more, bought, joints)

    def _renamed(self, stick: Stick, singles: Collection[str]) -> Stick:
        """Return a stick whose single pieces of beams have their own names: each was cut as a beam."""
        named = tuple(
            replace(p, piece=p.piece.removesuffix(" 1")) if p.piece.removesuffix(" 1") in singles else p
            for p in stick.pieces
        )
        return replace(stick, pieces=named)

    def _threads_in(
        self, stick: Stick, singles: Mapping[str, int], joints_m: Mapping[str, Sequence[float]]
    ) -> int:
        """Return how many threaded ends the pieces of a stick need."""
        threads = 0
        for piece in stick.pieces if self.pipe.joint == "threaded" else ():
            beam, _, number = piece.piece.rpartition(" ")
            if beam in singles:
                threads += singles[beam]
            elif beam in joints_m:
                threads += (int(number) > 1) + (int(number) <= len(joints_m[beam]))
        return threads

    def _uncut(
        self, pieces: Sequence[BeamToCut], stock: list[Stock]
    ) -> tuple[tuple[Stock, ...], tuple[Stick, ...]]:
        """Give each piece between two couplings a whole stick of its length; the stock is what stays.

        Such a piece has no other choice, and sticks of one length are as good as one another, so what is
        there is taken before what is bought.

        Raises
        ------
        CannotCut
            When there is no stick of the length.
        """
        sticks, lacking = [], []
        for piece in pieces:
            fit = [
                k
                for k, one in enumerate(stock)
                if abs(one.length_m - piece.length_m) <= FITS_M
                and one.use != "post"
                and threads_on(one) == THREADS
                and (one.pipe is None or same_pipe(one.pipe, piece.pipe))
            ]
            if not fit:
                lacking.append(
                    f"{piece.name} lies between two couplings of a beam that is sawn in part: it must be a "
                    f"whole stick of {self.show(piece.length_m)} with both its threads, and there is none: "
                    "add such a stick to the stock, or leave the beam's rows blank to cut all of it anew"
                )
                continue
            k = min(fit, key=lambda k: (stock[k].price or 0.0, stock[k].count is None))
            sticks.append(
                Stick(
                    stock_m=stock[k].length_m,
                    price=stock[k].price,
                    pipe=piece.pipe,
                    pieces=(CutPiece(piece=piece.name, length_m=piece.length_m),),
                    drop_m=0.0,
                    on_hand=stock[k].count is not None,
                )
            )
            count = stock[k].count
            if count is not None:
                stock[k : k + 1] = [replace(stock[k], count=count - 1)] if count > 1 else []
        if lacking:
            raise CannotCut(tuple(lacking))
        return tuple(stock), tuple(sticks)

    def _with_kept(
        self, one: Left, added: tuple[CutPiece, ...], threads: int
    ) -> tuple[tuple[CutPiece, ...], bool]:
        """Return kept and added pieces of a stick in order, and whether the last is from its far end.

        Those with a thread lie at its ends: the kept ones as they were, of those added, the first, so many. A
        piece that is all that is left of its stick needs no mark, so none short of the far end.
        """
        held = [piece for piece in one.kept if self.threads_of(piece.piece)]
        plain = [piece for piece in one.kept if not self.threads_of(piece.piece)]
        held += added[:threads]
        taken = one.first_end_sawn or bool(plain and plain[0] == one.kept[0])
        first, last = (held[:0], held) if taken else (held[:1], held[1:])
        pieces = (*first, *plain, *added[threads:], *last)
        fills = len(pieces) == 1 and one.length_m - pieces[0].length_m <= FITS_M
        return pieces, bool(last) and not fills

    def _list(
        self,
        found: CutList,
        more: dict[int, tuple[Stick, int]],
        bought: list[Stick],
        joints: dict[str, tuple[float, ...]],
    ) -> CutList:
        kerf = self.pipe.kerf_m
        sticks: list[Stick] = []
        taken: set[str] = set()
        for one in self.left:
            added, threads = more.get(id(one), (None, 0))
            pieces, far = ((), False) if added is None else (added.pieces, added.last_from_far_end)
            if one.kept or (one.first_end_sawn and threads):
                pieces, far = self._with_kept(one, pieces, threads)
            if pieces:
                sticks.append(
                    Stick(
                        stock_m=one.length_m,
                        price=0.0 if self.priced else None,
                        pipe=one.pipe,
                        pieces=pieces,
                        drop_m=drop_m(one.length_m, [piece.length_m for piece in pieces], kerf),
                        last_from_far_end=far,
                        on_hand=True,
                        name=self._called(one.stick, taken),
                    )
                )
        numbers = [int(row.stick) for row in self.rows if row.stick and row.stick.isdecimal()]
        first = max(numbers, default=0) + 1
        for number, stick in enumerate(bought, start=first):
            price = stick.price if self.priced else None
            sticks.append(replace(stick, name=str(number), price=price))
        every = {
            **{name: at for name, at in found.joints_m.items() if key_of_piece(name) in self.beams},
            **joints,
        }
        for key, beam in self.beams.items():
            every.setdefault(beam.name, self.old_joints.get(key, ()))
        return CutList(
            sticks=tuple(sticks),
            joints_m=every,
            count=len(sticks),
            bound=min(len(sticks), found.bound),
            cost=found.cost,
            cost_bound=found.cost_bound,
            proven=found.proven,
            warnings=(*self.warnings, *found.warnings),
            again=Again(
                sawn=tuple(self.done.values()),
                changed=self._changed(sticks),
                to_buy=sum(not stick.on_hand for stick in bought),
            ),
        )

    def _called(self, stick: str, taken: set[str]) -> str:
        """Return the name of a stick that no other has: with letters where two were told of one stick."""
        base = stick or NO_STICK
        others = taken if stick else taken | {key_of_piece(row.stick or "") for row in self.rows}
        names = [base, *(f"{base} {letter}" for letter in ascii_lowercase[1:])]
        name = next((name for name in names if key_of_piece(name) not in others), base)
        taken.add(key_of_piece(name))
        return name

    def _changed(self, sticks: Sequence[Stick]) -> dict[str, str]:
        """Say of each piece what is other than on the list."""
        changed = {}
        for stick in sticks:
            for piece in stick.pieces:
                row = self.listed.get(key_of_piece(piece.piece))
                said = []
                if row is None:
                    said.append("new")
                else:
                    if row.state is not None:
                        said.append("again")
                    elif key_of_piece(row.stick or "") != key_of_piece(stick.name):
                        said.append(f"was stick {row.stick}")
                    off = piece.length_m - (row.length_m or 0.0)
                    if abs(off) > SAME_M and self.show(abs(off)) != self.show(0.0):
                        said.append(f"{self.show(abs(off))} {'longer' if off > 0 else 'shorter'}")
                if said:
                    changed[piece.piece] = ", ".join(said)
        return changed
