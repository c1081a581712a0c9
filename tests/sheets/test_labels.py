"""Labels never touch each other, a sign or the window's edge."""

import numpy as np
import pytest

from staking.sheets.labels import GAP_MM, Label, clipped, place_labels, points_along

WINDOW = (0.0, 0.0, 180.0, 120.0)


def _crowd(count, seed=11):
    places = np.random.default_rng(seed).uniform((8.0, 8.0), (172.0, 112.0), (count, 2))
    labels = [
        Label(
            xy_mm=(x, y), radius_mm=1.5, lines=((f"A{k}", 10.5, True), ("5' 5-1/8\"", 9.5, False)), layer=""
        )
        for k, (x, y) in enumerate(places)
    ]
    taken = [(x - 1.5, y - 1.5, x + 1.5, y + 1.5) for x, y in places]
    return labels, taken


@pytest.mark.parametrize("count", [5, 40, 150])
def test_crowded_labels_stay_apart(count):
    labels, taken = _crowd(count)
    placed = [p for p in place_labels(labels, window=WINDOW, taken=taken, lines_mm=np.zeros((0, 2))) if p]
    # 150 labels would cover most of the window: some must be left out, none may overlap.
    assert 50 <= len(placed) < count if count > 100 else len(placed) == count
    boxes = [p.box for p in placed]
    for i, a in enumerate(boxes):
        assert a[0] >= 0.0
        assert a[1] >= 0.0
        assert a[2] <= 180.0
        assert a[3] <= 120.0
        for b in (*boxes[i + 1 :], *taken):
            apart = max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3])
            assert apart >= GAP_MM - 1e-9


def test_leaders_cross_no_label():
    labels, taken = _crowd(60)
    placed = [p for p in place_labels(labels, window=WINDOW, taken=taken, lines_mm=np.zeros((0, 2))) if p]
    leaders = [p for p in placed if p.leader is not None]
    assert leaders
    for p in leaders:
        for other in placed:
            if other is not p:
                inner = (other.box[0] + 0.01, other.box[1] + 0.01, other.box[2] - 0.01, other.box[3] - 0.01)
                assert clipped(p.leader.xy_mm[0], p.leader.xy_mm[1], inner) is None


def test_a_label_with_no_room_is_none_not_an_overlap():
    labels, taken = _crowd(3)
    everything = [(0.0, 0.0, 180.0, 120.0)]
    assert place_labels(labels, window=WINDOW, taken=[*taken, *everything], lines_mm=np.zeros((0, 2))) == (
        None,
        None,
        None,
    )


def test_where_only_the_name_fits_the_name_is_kept():
    label = Label(
        xy_mm=(90.0, 60.0), radius_mm=1.5, lines=(("A1", 10.0, True), ("5' 5-1/8\"", 9.5, False)), layer=""
    )
    # A slot 6 mm wide above the sign: the length does not fit into it, nor anywhere else.
    walls = [(0.0, 0.0, 86.5, 120.0), (93.5, 0.0, 180.0, 120.0), (0.0, 0.0, 180.0, 58.0)]
    (placed,) = place_labels([label], window=WINDOW, taken=walls, lines_mm=np.zeros((0, 2)))
    assert [t.text for t in placed.texts] == ["A1"]
    assert not placed.whole


def test_a_lone_label_stands_right_above_without_a_leader():
    label = Label(xy_mm=(90.0, 60.0), radius_mm=1.5, lines=(("A1", 10.0, True),), layer="")
    (placed,) = place_labels(
        [label], window=WINDOW, taken=[(88.5, 58.5, 91.5, 61.5)], lines_mm=np.zeros((0, 2))
    )
    assert placed.leader is None
    assert placed.box[0] > 90.0
    assert placed.box[1] > 60.0


def test_a_label_keeps_off_a_line_when_it_can():
    label = Label(xy_mm=(90.0, 60.0), radius_mm=1.5, lines=(("A1", 10.0, True),), layer="")
    line = points_along([(92.0, 0.0), (92.0, 120.0)])
    (placed,) = place_labels([label], window=WINDOW, taken=[], lines_mm=line)
    assert not placed.box[0] < 92.0 < placed.box[2]


@pytest.mark.parametrize(
    ("a", "b", "part"),
    [
        ((-5.0, 5.0), (15.0, 5.0), ((0.0, 5.0), (10.0, 5.0))),
        ((5.0, -5.0), (5.0, 15.0), ((5.0, 0.0), (5.0, 10.0))),
        ((2.0, 2.0), (3.0, 4.0), ((2.0, 2.0), (3.0, 4.0))),
        ((-5.0, -5.0), (15.0, 15.0), ((0.0, 0.0), (10.0, 10.0))),
        ((-5.0, 12.0), (15.0, 12.0), None),
        ((-5.0, 5.0), (-1.0, 5.0), None),
        ((-1.0, 10.0), (4.0, 15.0), None),
    ],
)
def test_clipping(a, b, part):
    found = clipped(a, b, (0.0, 0.0, 10.0, 10.0))
    if part is None:
        assert found is None
    else:
        assert found is not None
        assert np.allclose(found, part)


def _uncrowded(seed):
    labels, taken = _crowd(25, seed)
    placed = place_labels(labels, window=WINDOW, taken=taken, lines_mm=np.zeros((0, 2)))
    return labels, [p.box for p in placed]


@pytest.mark.parametrize("seed", [11, 12, 18])
def test_a_label_stands_nearer_to_its_own_thing_than_to_another(seed):
    labels, boxes = _uncrowded(seed)
    for k, box in enumerate(boxes):
        away = [
            np.hypot(max(box[0] - x, x - box[2], 0.0), max(box[1] - y, y - box[3], 0.0))
            for x, y in (label.xy_mm for label in labels)
        ]
        assert np.argmin(away) == k


@pytest.mark.parametrize("seed", [11, 12, 18])
def test_two_labels_do_not_stand_close_beside_each_other_on_one_height(seed):
    _, boxes = _uncrowded(seed)
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            on_one_height = a[1] < b[3] and b[1] < a[3]
            assert not on_one_height or max(a[0] - b[2], b[0] - a[2]) >= 3.0
