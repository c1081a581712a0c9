"""Published packing instances with known optima, as posts without kerf.

Source: J. E. Beasley, OR-Library, bin packing, files binpack1 (u120_00, u120_01) and binpack5 (t60_00)
with the numbers of bins given there; instances of E. Falkenauer, Journal of Heuristics 2 (1996) 5-30 (the
pages from memory).
"""

import pytest

from staking.book.records import Pipe, Stock
from staking.pipes.cutlist import Piece
from staking.pipes.cutting import cut

INSTANCES = {
    "u120_00": (
        150,
        48,
        "98 98 98 96 96 94 93 93 92 91 91 90 87 86 85 85 84 84 84 84 84 83 83 82 82 81 80 80 80 79 79 "
        "78 78 78 78 76 74 74 73 73 73 73 72 71 70 70 70 69 69 69 67 66 64 62 62 60 60 59 58 58 58 57 "
        "57 57 57 55 55 55 50 49 49 49 47 46 46 45 45 44 44 43 43 43 43 42 42 42 42 42 41 41 41 39 39 "
        "38 38 38 37 36 36 36 35 33 33 33 32 32 30 30 30 29 28 27 27 26 25 25 24 23 23 20",
    ),
    "u120_01": (
        150,
        49,
        "100 100 99 99 98 98 98 98 98 97 97 97 95 95 95 94 92 90 90 88 88 85 82 81 81 81 80 80 80 79 79 "
        "78 78 76 75 75 74 72 72 71 70 70 70 68 67 67 67 67 66 66 65 65 64 62 61 61 60 60 60 59 58 57 "
        "57 57 55 55 53 53 53 53 53 53 52 52 50 49 49 48 48 47 47 47 46 46 45 45 45 44 43 43 43 41 39 "
        "39 39 38 38 37 36 36 36 35 33 32 30 30 29 29 27 27 27 25 24 23 23 22 22 22 20 20",
    ),
    "t60_00": (
        1000,
        20,
        "495 474 473 472 466 450 445 444 439 430 419 414 410 395 372 370 366 366 366 363 361 357 355 "
        "351 350 350 347 320 315 307 303 299 298 298 292 288 287 283 275 275 274 273 273 272 272 271 "
        "269 269 268 263 262 261 259 258 255 254 252 252 252 251",
    ),
}
"""Name: (capacity, bins needed, items)."""


@pytest.mark.parametrize("name", INSTANCES)
def test_the_known_optimum_is_found_and_proven(name: str) -> None:
    capacity, bins, items = INSTANCES[name]
    posts = [Piece(name=f"A{n}", length_m=float(x), pipe="p") for n, x in enumerate(items.split(), start=1)]
    cuts = cut(posts, [], Pipe(stock=(Stock(length_m=float(capacity)),), kerf_m=0.0))
    assert (cuts.count, cuts.bound, cuts.proven) == (bins, bins, True)
    assert sum(len(s.pieces) for s in cuts.sticks) == len(posts)
    assert all(sum(p.length_m for p in s.pieces) <= capacity for s in cuts.sticks)
