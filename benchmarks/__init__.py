"""Speed, as ratios against a floor measured in the same run. Run by hand: ``make bench``."""
