"""Run every benchmark: ``make bench``."""

from __future__ import annotations

from benchmarks import adjust, bench_cut, big_yard, ground, joint_jobs, many_piers, pack_time, start_up


def main() -> None:
    """Print all ratios, each against its floor measured in the same run."""
    for part in (start_up, bench_cut, joint_jobs, big_yard, many_piers, ground, adjust, pack_time):
        print(f"\n{(part.__doc__ or '').splitlines()[0]}")
        part.main()


if __name__ == "__main__":
    main()
