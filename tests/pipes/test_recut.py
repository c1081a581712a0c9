"""Cutting again from what is left, checked by an independent count of every piece and length of pipe."""

import random
from dataclasses import replace

import pytest

from staking.base.errors import WrongInput
from staking.book.records import Footing, Pipe, SawnRow, Stock
from staking.pipes.cutlist import BeamToCut, CannotCut, Piece
from staking.pipes.cutting import cut
from staking.pipes.holes import Hole, with_depth
from staking.pipes.recut import cut_again

KERF, IN = 0.003, 0.0254
PIPE = Pipe(stock=(Stock(length_m=6.4, price=90.0),), kerf_m=KERF, joint_clear_m=0.1, cut_allowance_m=IN)
POSTS = [
    Piece(name=name, length_m=length, pipe="p")
    for name, length in [("A1", 1.95), ("A2", 2.05), ("A3", 2.2), ("B1", 2.9), ("B2", 2.95), ("B3", 3.05)]
]
BEAMS = [
    BeamToCut(name=f"beam {c}", length_m=8.2, posts_m=(0.6, 4.1, 7.6), rails_m=(0.3, 2.0, 6.0), pipe="p")
    for c in "AB"
]


def show(length_m):
    return f"{length_m * 1000:.0f} mm"


def listed(cuts):
    return [
        SawnRow(
            table="sawn.csv",
            row=2 + n,
            stick=str(number),
            stock_m=stick.stock_m,
            piece=piece.piece,
            length_m=piece.length_m,
        )
        for n, (number, stick, piece) in enumerate(
            (number, stick, piece)
            for number, stick in enumerate(cuts.sticks, start=1)
            for piece in stick.pieces
        )
    ]


FIRST = cut(POSTS, BEAMS, PIPE)
ROWS = listed(FIRST)


def with_states(states, rows=ROWS):
    return [replace(row, state=states.get(row.piece, row.state)) for row in rows]


def left(length, stick=None):
    return SawnRow(table="sawn.csv", row=99, stick=stick, length_m=length, state="left")


def checked(rows, posts=POSTS, beams=BEAMS, pipe=PIPE):
    """Cut again, and count: every piece once, no stick overfull, what is left taken once, joints legal."""
    cuts = cut_again(rows, posts, beams, pipe, show=show)
    done = {piece.piece: piece.length_m for piece in cuts.again.sawn}
    fresh = {piece.piece: piece.length_m for stick in cuts.sticks for piece in stick.pieces}
    assert len(fresh) == sum(len(stick.pieces) for stick in cuts.sticks)
    assert not set(done) & set(fresh)
    both = done | fresh
    for post in posts:
        assert both.pop(post.name) >= post.length_m - (pipe.cut_allowance_m if post.name in done else 1e-9)
    for beam in beams:
        parts = [both.pop(f"{beam.name} {k + 1}") for k in range(len(cuts.joints_m[beam.name]) + 1)]
        assert sum(parts) == pytest.approx(beam.length_m, abs=1e-6)
        at = 0.0
        for length, joint in zip(parts, cuts.joints_m[beam.name], strict=False):
            at += length
            assert at == pytest.approx(joint, abs=1e-6)
            assert beam.posts_m[0] < joint < beam.posts_m[-1]
            assert min(abs(joint - x) for x in (*beam.posts_m, *beam.rails_m)) > pipe.joint_clear_m - 1e-6
    assert not both
    told = {}
    for row in rows:
        if row.piece is None:
            told.setdefault(row.stick, []).append(row.length_m)
    rest = {}
    for row in rows:
        if row.piece is not None:
            rest.setdefault(row.stick, row.stock_m)
            if row.state is not None:
                rest[row.stick] -= row.length_m + KERF
    there = sorted(
        [x for s, x in rest.items() if s not in told] + [x for some in told.values() for x in some]
    )
    for stick in cuts.sticks:
        need = sum(piece.length_m for piece in stick.pieces) + KERF * (len(stick.pieces) - 1)
        assert need <= stick.stock_m + 1e-5
        if stick.on_hand:
            near = [x for x in there if abs(x - stick.stock_m) < 1e-6]
            assert near
            there.remove(near[0])
        else:
            assert stick.stock_m in [stock.length_m for stock in pipe.stock]
    assert cuts.count == len(cuts.sticks)
    assert cuts.again.to_buy == sum(not stick.on_hand for stick in cuts.sticks)
    if cuts.cost is not None:
        assert cuts.cost == pytest.approx(sum(stick.price for stick in cuts.sticks))
        assert cuts.cost_bound <= cuts.cost
    return cuts


def places(cuts):
    return {
        piece.piece: (stick.name or str(n), round(piece.length_m, 6))
        for n, stick in enumerate(cuts.sticks, start=1)
        for piece in stick.pieces
    }


def test_with_nothing_wrong_nothing_changes():
    cuts = checked(ROWS)
    assert cuts.again.changed == {}
    assert places(cuts) == places(FIRST)
    assert cuts.again.to_buy == 0


def test_with_all_sawn_nothing_is_left_to_cut():
    cuts = checked(with_states({row.piece: "sawn" for row in ROWS}))
    assert cuts.sticks == ()
    assert len(cuts.again.sawn) == len(ROWS)


@pytest.mark.parametrize("piece", ["A1", "B3", "beam A 1", "beam B 2"])
def test_only_the_spoilt_piece_is_marked(piece):
    cuts = checked(with_states({piece: "spoilt"}))
    spared = 4 * 6.4  # Of the first list; one more stick holds any of its pieces.
    assert spared <= 6.4 * FIRST.count
    if cuts.again.to_buy:
        assert set(cuts.again.changed) == {piece}
    assert cuts.again.changed[piece].startswith("again")


def test_a_bent_stick_is_what_is_straight_of_it():
    stick = next(row.stick for row in ROWS if row.piece == "B3")
    cuts = checked([*ROWS, left(3.1, stick)])
    held = [s for s in cuts.sticks if s.name == stick]
    assert all(s.stock_m == 3.1 for s in held)
    gone = checked([*ROWS, left(0.0, stick)])
    assert stick not in [s.name for s in gone.sticks]


def test_an_offcut_found_saves_a_stick():
    rows = with_states({row.piece: "spoilt" if row.piece == "A1" else "sawn" for row in ROWS})
    assert checked([*rows, *(left(0.0, row.stick) for row in ROWS if row.piece == "A1")]).again.to_buy == 1
    cuts = checked([*rows, *(left(0.0, row.stick) for row in ROWS if row.piece == "A1"), left(1.96)])
    assert cuts.again.to_buy == 0
    assert [(s.name, s.stock_m) for s in cuts.sticks] == [("left", 1.96)]


def test_sticks_on_hand_of_one_size_are_not_counted_for_the_other():
    """2026-11-28: sticks of both sizes were taken off each stock of 6.4 m, so that none was left."""
    posts = [Piece(name="A1", length_m=3.0, pipe="p"), Piece(name="A2", length_m=3.1, pipe="p")]
    beams = [BeamToCut(name="beam A", length_m=6.0, posts_m=(0.5, 5.5), rails_m=(), pipe="q")]
    stock = tuple(Stock(length_m=6.4, price=90.0, pipe=name, count=2) for name in "pq")
    pipe = replace(PIPE, stock=stock)
    rows = with_states({"A1": "spoilt"}, listed(cut(posts, beams, pipe)))
    cuts = cut_again(rows, posts, beams, pipe, show=show)
    assert places(cuts) == {"A2": ("1", 3.1), "A1": ("3", 3.0), "beam A 1": ("2", 6.0)}
    assert set(cuts.again.changed) == {"A1"}
    with pytest.raises(CannotCut):
        cut_again(rows, posts, beams, replace(pipe, stock=(replace(stock[0], count=1), stock[1])), show=show)


def test_one_piece_of_a_beam_without_a_stick_is_told_as_that():
    """2026-11-28: it was told to have no legal joints, which it may not have."""
    beams, states = BEAMS[:1], {"beam A 1": "sawn", "beam A 2": "spoilt"}
    rows = [replace(row, row=2 + n) for n, row in enumerate(listed(cut([], beams, PIPE)))]
    short = replace(PIPE, stock=(Stock(length_m=1.0, price=9.0),))
    with pytest.raises(
        CannotCut, match=r"beam A 2 must be one piece of \d+ mm, as its beam keeps its joints"
    ):
        checked([*with_states(states, rows), *(left(0.0, row.stick) for row in rows)], [], beams, short)


def test_a_longer_post_is_told_with_its_change():
    posts = [replace(post, length_m=post.length_m + (0.02 if post.name == "A2" else 0.0)) for post in POSTS]
    cuts = checked(ROWS, posts=posts)
    assert "20 mm longer" in cuts.again.changed["A2"]
    again = [replace(row, state="sawn") if row.piece == "A2" else row for row in ROWS]
    # Sawn 20 mm shorter than asked, within the inch that is trimmed at the mark: it does.
    assert "A2" in [piece.piece for piece in checked(again, posts=posts).again.sawn]
    long = [replace(post, length_m=post.length_m + (0.06 if post.name == "A2" else 0.0)) for post in POSTS]
    cuts = checked(again, posts=long)
    assert cuts.again.changed["A2"].startswith("again")
    assert any("too short by now" in text for text in cuts.warnings)


@pytest.mark.parametrize("seed", range(5))
def test_whatever_happened_every_piece_is_there_and_nothing_costs_less_than_the_bound(seed):
    chance = random.Random(seed)
    states = {row.piece: chance.choice([None, None, None, "sawn", "sawn", "spoilt"]) for row in ROWS}
    rows = with_states(states)
    if chance.random() < 0.5:
        rows.append(left(round(chance.uniform(0.5, 6.0), 3)))
    if chance.random() < 0.3:
        rows.append(left(round(chance.uniform(0.0, 3.0), 3), stick=chance.choice(ROWS).stick))
    cuts = checked(rows)
    # Buying everything anew is a cutting too: nothing dearer is told.
    need = [post for post in POSTS if post.name not in {p.piece for p in cuts.again.sawn}]
    whole = {beam.name for beam in BEAMS if not any(p.piece.startswith(beam.name) for p in cuts.again.sawn)}
    if all(beam.name in whole for beam in BEAMS):
        assert cuts.cost <= cut(need, BEAMS, PIPE).cost + 1e-6


def test_without_prices_the_least_pipe_is_bought_and_no_money_told():
    pipe = replace(PIPE, stock=(Stock(length_m=6.4), Stock(length_m=3.2)))
    rows = with_states({row.piece: "spoilt" if row.piece == "A1" else "sawn" for row in ROWS})
    rows += [left(0.0, row.stick) for row in ROWS if row.piece == "A1"]
    cuts = cut_again(rows, POSTS, BEAMS, pipe, show=show)
    assert cuts.cost is None
    assert [stick.stock_m for stick in cuts.sticks] == [3.2]


def test_rows_that_do_not_go_with_the_design_are_told_all_at_once():
    rows = [replace(ROWS[0], piece="A9"), *ROWS[1:], replace(ROWS[2], row=50)]
    rows.append(replace(ROWS[3], row=51, stock_m=5.0, state="spoilt", hole_depth_m=1.0))
    with pytest.raises(WrongInput) as told:
        cut_again(rows, POSTS, BEAMS, PIPE, show=show)
    text = str(told.value)
    assert "row 2, column piece: no post or piece of a beam has this name" in text
    assert "row 50, column piece" in text
    assert "row 51, column stock" in text


def test_a_number_that_no_stick_has_is_refused_and_rows_that_lack_are_told():
    """2026-11-28: 12 ft left of stick 44 for 4 was an offcut, the bent stick whole; lost rows bought pipe."""
    with pytest.raises(WrongInput, match="no piece on the list is from a stick of this number"):
        cut_again([*ROWS, left(1.0, "44")], POSTS, BEAMS, PIPE, show=show)
    (warning,) = checked([row for row in ROWS if row.piece != "A2"]).warnings
    assert warning.startswith("sawn.csv has no row of A2")


def test_pieces_longer_than_their_stick_and_pipe_of_no_use_are_refused():
    rows = [replace(ROWS[0], length_m=9.9, state="sawn"), *ROWS[1:], replace(left(2.0), pipe="q")]
    with pytest.raises(WrongInput) as told:
        cut_again(rows, POSTS, BEAMS, PIPE, show=show)
    text = str(told.value)
    assert "row 2, column length: the pieces of stick 1 are longer together than its 6400 mm" in text
    # Found 2026-11-29: the pipe known was named once for every post and beam.
    assert text.endswith("row 99, column pipe: no post or beam is of this pipe. Known are p")


def test_pieces_of_a_beam_that_has_changed_are_refused_where_one_is_sawn():
    beams = [replace(BEAMS[0], length_m=8.3), BEAMS[1]]
    sawn = with_states({"beam A 1": "sawn"})
    with pytest.raises(WrongInput, match=r"beam A do not make up its 8300 mm"):
        cut_again(sawn, POSTS, beams, PIPE, show=show)
    assert cut_again(ROWS, POSTS, beams, PIPE, show=show).again.changed


def stale(piece, length, number):
    """Return the row of a piece that was spoilt before the list was cut again."""
    return SawnRow(
        table="sawn.csv", row=90, stick=number, stock_m=6.4, piece=piece, length_m=length, state="spoilt"
    )


@pytest.mark.parametrize("first", [True, False])
def test_pieces_spoilt_before_joints_moved_are_none_of_the_beam_s_now(first):
    """A second mistake was refused, "the pieces of beam A do not make up its 8200 mm" (2026-11-29)."""
    before = [stale("beam A 3", 1.0, "50"), stale("beam A 1", 2.5, "51"), stale("beam B 1", 2.5, "51")]
    states = {"beam A 1": "spoilt", "beam A 2": "sawn", "beam B 1": "spoilt"}
    now = with_states(states)
    cuts = checked([*before, *now] if first else [*now, *before])
    old = {row.piece: row.length_m for row in ROWS}
    fresh = {piece.piece: piece.length_m for stick in cuts.sticks for piece in stick.pieces}
    assert fresh["beam A 1"] == pytest.approx(old["beam A 1"], abs=1e-6)
    assert cuts.again.changed["beam A 1"] == "again"
    assert "beam A 3" not in fresh
    unsawn = cut_again([*before, *ROWS], POSTS, BEAMS, PIPE, show=show)
    assert unsawn.again.changed == {}


def test_pieces_that_stay_in_their_stick_keep_their_order():
    """A stick's cut marks were others, and no line was marked (2026-11-29)."""
    two = next(name for name in {row.stick for row in ROWS} if sum(row.stick == name for row in ROWS) > 1)
    last = [row.piece for row in ROWS if row.stick == two][-1]
    before = [stale(last, 1.0, "50"), *ROWS]
    cuts = cut_again(before, POSTS, BEAMS, PIPE, show=show)
    held = next(stick for stick in cuts.sticks if stick.name == two)
    assert [piece.piece for piece in held.pieces] == [row.piece for row in ROWS if row.stick == two]
    assert cuts.again.changed == {}


def test_what_cannot_be_cut_is_said():
    pipe = replace(PIPE, stock=(replace(PIPE.stock[0], count=FIRST.count),))
    states = {row.piece: "spoilt" for row in ROWS}
    with pytest.raises(CannotCut):
        cut_again(with_states(states), POSTS, BEAMS, pipe, show=show)


THREADED = replace(
    PIPE, joint="threaded", stock=(Stock(length_m=6.4, price=90.0), Stock(length_m=3.5, price=52.0))
)
LONG = [
    BeamToCut(
        name=f"beam {c}", length_m=14.2, posts_m=(0.6, 4.9, 9.2, 13.5), rails_m=(0.3, 2.0, 8.0), pipe="p"
    )
    for c in "AB"
]


def needs_of(piece, lots):
    beam, _, number = piece.rpartition(" ")
    return (int(number) > 1) + (int(number) <= lots[beam]) if beam in lots else 0


def threads_there(rows, lots):
    """By stick: whether its first and its far end have their threads still, from what was sawn there.

    The first row lies at the first end, the last at the far end where it needs a thread and is not the first.
    Whatever else was sawn was sawn on from the first end.
    """
    sticks = {}
    for row in rows:
        if row.piece is not None:
            sticks.setdefault(row.stick, []).append(row)
    there = {}
    for stick, mine in sticks.items():
        far = mine[-1] if len(mine) > 1 and needs_of(mine[-1].piece, lots) else None
        first_gone = any(row.state is not None and row is not far for row in mine)
        there[stick] = not first_gone, far is None or far.state is None
        kept = [row is not far and row.state is None for row in mine]
        if any(
            a and row is not far and row.state is not None for n, row in enumerate(mine) for a in kept[:n]
        ):
            # Sawn from the middle: nobody knows what lies where.
            there[stick] = False, False
    told = {row.stick for row in rows if row.piece is None}
    return there | dict.fromkeys(told, (False, False))


def threads_counted(cuts, rows, beams=LONG):
    """Count again: a piece between two couplings is an uncut stick; others lie at an end with a thread."""
    lots = {beam.name: len(cuts.joints_m[beam.name]) for beam in beams}
    there = threads_there(rows, lots)
    at = {row.piece: row.stick for row in rows}
    for stick in cuts.sticks:
        needs = [needs_of(piece.piece, lots) for piece in stick.pieces]
        first, far = there.get(stick.name, (True, True))
        stays = [at.get(piece.piece) == stick.name for piece in stick.pieces]
        if 2 in needs:
            assert len(needs) == 1
            assert stick.pieces[0].length_m == pytest.approx(stick.stock_m, abs=1e-5)
            assert first
            assert far
            continue
        assert not any(needs[1:-1])
        assert sum(needs) <= max(first + far, sum(stay for n, stay in zip(needs, stays, strict=True) if n))
        if stick.last_from_far_end:
            assert needs[-1]
            assert far or stays[-1]
        elif needs[0]:
            assert first or stays[0] or not far
        if len(needs) > 1 and needs[-1]:
            assert stick.last_from_far_end


@pytest.mark.parametrize("spoilt", ["beam A 1", "beam A 3"])
def test_the_far_end_of_a_sawn_stick_serves_a_coupling(spoilt):
    """Common practice, no source: pipe comes threaded at both ends, and sawing from one leaves the other.

    Found 2026-11-29: what is left of sawn sticks served for posts alone, and a stick was bought.
    """
    sticks = [6.4, 6.4, 6.4]
    rows = [
        SawnRow(table="sawn.csv", row=2 + n, stick=str(n + 1), stock_m=x, piece=name, length_m=length)
        for n, (x, name, length) in enumerate(
            zip(sticks, ["beam A 1", "beam A 2", "beam A 3"], [2.0, 6.4, 2.4], strict=True)
        )
    ]
    rows = [replace(row, state="spoilt" if row.piece == spoilt else "sawn") for row in rows]
    beam = BeamToCut(name="beam A", length_m=10.8, posts_m=(0.6, 4.9, 9.2, 10.4), rails_m=(0.3,), pipe="p")
    pipe = replace(THREADED, stock=THREADED.stock[:1])
    cuts = checked(rows, [], [beam], pipe)
    threads_counted(cuts, rows, [beam])
    assert cuts.again.to_buy == 0
    (stick,) = cuts.sticks
    assert stick.on_hand
    assert stick.last_from_far_end
    # Nor a second time: told as left, nobody knows where its thread is.
    told = [*rows, *(left(row.stock_m - row.length_m - KERF, row.stick) for row in rows if row.stick != "2")]
    assert checked(told, [], [beam], pipe).again.to_buy == 1


def test_what_is_nothing_as_printed_is_no_change():
    """2026-11-28: a piece of a beam 0.6 mm shorter was marked 0" shorter."""
    posts = [replace(POSTS[0], length_m=POSTS[0].length_m + 0.0006), *POSTS[1:]]
    fine = cut_again(ROWS, posts, BEAMS, PIPE, show=lambda x: f"{x * 1e4:.0f} tenths")
    coarse = cut_again(ROWS, posts, BEAMS, PIPE, show=lambda x: f"{x * 1e2:.0f} cm")
    assert (fine.again.changed["A1"], coarse.again.changed) == ("6 tenths longer", {})


@pytest.mark.parametrize("seed", [25, *range(8)])
def test_threaded_beams_that_are_begun_keep_their_joints(seed):
    """Symptom, 2026-11-28: cutting again was refused as soon as one piece of a threaded beam was sawn."""
    chance = random.Random(seed)
    rows = listed(cut(POSTS, LONG, THREADED))
    states = {row.piece: chance.choice(["sawn", "sawn", "spoilt", None]) for row in rows}
    rows = with_states(states, rows)
    cuts = checked(rows, beams=LONG, pipe=THREADED)
    threads_counted(cuts, rows)
    for beam in LONG:
        parts = sorted((row for row in rows if row.piece.startswith(beam.name)), key=lambda r: r.piece)
        if any(row.state == "sawn" for row in parts):
            old, at = [], 0.0
            for row in parts[:-1]:
                at += row.length_m
                old.append(at)
            assert cuts.joints_m[beam.name] == pytest.approx(old, abs=1e-6)


def test_a_piece_between_two_couplings_needs_a_whole_stick():
    rows = listed(cut(POSTS, LONG, THREADED))
    rows = with_states({r.piece: "spoilt" if r.piece == "beam A 2" else "sawn" for r in rows}, rows)
    there = replace(THREADED, stock=(Stock(length_m=7.0, price=99.0),))
    with pytest.raises(CannotCut, match="beam A 2 lies between two couplings"):
        cut_again(rows, POSTS, LONG, there, show=show)


def test_a_bent_stick_has_lost_its_threads():
    rows = listed(cut(POSTS, LONG, THREADED))
    row = next(r for r in rows if r.piece == "beam A 1")
    cuts = checked([*rows, left(row.stock_m - 0.1, row.stick)], beams=LONG, pipe=THREADED)
    assert "beam A 1" in cuts.again.changed


@pytest.mark.parametrize("joint", ["threaded", "sleeve"])
def test_an_offcut_kept_for_posts_holds_no_piece_of_a_beam(joint):
    """2026-11-28: an offcut with use = "post" lay between two couplings after a mistake."""
    bought = Stock(length_m=6.4, price=90.0, use="beam")
    stock = (bought, replace(bought, price=0.0, count=1, use="post"))
    pipe, post, beam = replace(THREADED, joint=joint, stock=stock), POSTS[:1], LONG[:1]
    rows = listed(cut(post, beam, pipe))
    offcut = next(row.stick for row in rows if row.piece == "A1")
    whole = next(row.stick for row in rows if row.length_m == pytest.approx(6.4))
    rows = [*rows, left(1.0, whole)]
    cuts = checked(rows, post, beam, pipe)
    if joint == "threaded":
        threads_counted(cuts, rows, beam)
    assert not any(s.name == offcut and p.piece.startswith("beam") for s in cuts.sticks for p in s.pieces)
    assert cuts.again.to_buy == 1


def test_a_stick_that_a_list_cut_again_does_not_need_keeps_its_threads():
    """2026-11-28: told as left with its whole length, it served for posts alone after a second mistake."""
    rows = listed(cut(POSTS, LONG, THREADED))
    row = next(r for r in rows if r.piece == "beam A 1" and r.stock_m == 6.4)
    spare = replace(left(6.4, "40"), stock_m=6.4)
    cuts = checked([*rows, left(1.0, row.stick), spare], beams=LONG, pipe=THREADED)
    assert places(cuts)["beam A 1"][0] == "40"


def test_a_piece_that_is_all_that_is_left_needs_no_mark():
    """2026-11-29: the piece of a threaded stick that a post was sawn from was to be cut at 0."""
    rest = 6.4 - POSTS[0].length_m - KERF
    lengths = {"A1": POSTS[0].length_m, "beam A 2": rest, "beam A 1": BEAMS[0].length_m - rest}
    rows = [
        SawnRow(table="sawn.csv", row=n, stick=stick, stock_m=6.4, piece=piece, length_m=lengths[piece])
        for n, (stick, piece) in enumerate([("1", "A1"), ("1", "beam A 2"), ("2", "beam A 1")], start=2)
    ]
    rows[0] = replace(rows[0], state="sawn")
    cuts = cut_again(rows, POSTS[:1], BEAMS[:1], THREADED, show=show)
    assert [piece.piece for piece in cuts.sticks[0].pieces] == ["beam A 2"]
    assert not cuts.sticks[0].last_from_far_end
    moved = [replace(rows[k], length_m=rows[k].length_m + by) for k, by in ((1, -0.01), (2, 0.01))]
    cuts = cut_again([rows[0], *moved], POSTS[:1], BEAMS[:1], THREADED, show=show)
    assert cuts.sticks[0].last_from_far_end


HOLE = Hole(
    pier="A1",
    lip_m=0.02,
    embedment_m=1.2,
    bottom_cover_m=0.08,
    hole_depth_m=1.3,
    post_length_m=2.5,
    hole_m3=0.0,
    over_dig_m3=0.0,
    post_m3=0.0,
    bags=None,
    off_mark_m=None,
)
FOOTING = Footing(hole_diameter_m=0.3, embedment_m=1.2, bottom_cover_m=0.05)


@pytest.mark.parametrize(
    ("depth", "length", "embedment", "cover"),
    [
        (1.40, 2.60, 1.30, 0.08),  # Deeper: longer by as much, on the cover as planned.
        (1.28, 2.50, 1.20, 0.06),  # Shallower: the cover gives way first,
        (1.10, 2.33, 1.03, 0.05),  # then the post: 1.10 − 0.05 in the ground instead of 1.22.
    ],
)
def test_a_hole_at_another_depth(depth, length, embedment, cover):
    dug = with_depth(HOLE, depth, FOOTING, post_od_m=0.06, allowance_m=IN)
    assert (dug.post_length_m, dug.embedment_m, dug.bottom_cover_m) == pytest.approx(
        (length, embedment, cover)
    )
    assert dug.hole_depth_m == depth
    in_ground = embedment + 0.02
    assert dug.concrete_m3 == pytest.approx(0.25 * 3.141592653589793 * (0.09 * depth - 0.0036 * in_ground))


def test_a_post_that_is_cut_stands_high_in_a_shallow_hole():
    """2026-11-28: a hole of 3 ft had 4 ft of embedment and a bottom cover below nought, no word said."""
    dug = with_depth(HOLE, 1.1, FOOTING, post_od_m=0.06, allowance_m=IN, sawn_m=2.5)
    assert (dug.post_length_m, dug.embedment_m, dug.bottom_cover_m) == pytest.approx((2.5, 1.03, 0.05))
    assert dug.stands_high_m == pytest.approx(0.17)  # 2.5 − 2.33, what an uncut post is shorter.
    with pytest.raises(ValueError, match="too shallow"):
        with_depth(HOLE, 0.06, FOOTING, post_od_m=0.06, allowance_m=IN, sawn_m=2.5)


def test_a_post_that_is_cut_keeps_its_length_in_a_deeper_hole():
    dug = with_depth(HOLE, 1.4, FOOTING, post_od_m=0.06, allowance_m=IN, sawn_m=2.5)
    assert (dug.post_length_m, dug.embedment_m, dug.bottom_cover_m) == pytest.approx((2.5, 1.2, 0.18))
    assert dug.stands_high_m == pytest.approx(0.0)
    with pytest.raises(ValueError, match="too shallow"):
        with_depth(HOLE, 0.06, FOOTING, post_od_m=0.06, allowance_m=IN)


@pytest.mark.parametrize("depth", [1.40, 1.28, 1.10])
def test_a_post_that_is_sawn_for_its_hole_as_dug_stands_as_it_was_sawn_for(depth):
    """2026-11-29: of a post sawn for a shallow hole it was said that it is too short, after a second mistake.

    And in a deeper one it had the embedment of a post that was never longer.
    """
    before = with_depth(HOLE, depth, FOOTING, post_od_m=0.06, allowance_m=IN)
    after = with_depth(HOLE, depth, FOOTING, post_od_m=0.06, allowance_m=IN, sawn_m=before.post_length_m)
    assert after.stands_high_m == pytest.approx(0.0)
    for name in ("post_length_m", "embedment_m", "bottom_cover_m", "concrete_m3"):
        assert getattr(after, name) == pytest.approx(getattr(before, name))


def test_what_a_sawn_post_lacks_is_taken_from_the_allowance_or_it_is_sawn_again():
    short = with_depth(HOLE, 1.3, FOOTING, post_od_m=0.06, allowance_m=IN, sawn_m=2.49)
    assert (short.post_length_m, short.embedment_m) == pytest.approx((2.49, 1.2))
    assert short.stands_high_m == pytest.approx(-0.01)  # So much less is trimmed.
    again = with_depth(HOLE, 1.3, FOOTING, post_od_m=0.06, allowance_m=IN, sawn_m=2.4)
    assert (again.post_length_m, again.stands_high_m) == (2.5, 0.0)
