"""Array design to its plane, piers, tops and above-grade lengths; limits, conflicts and remedies."""
