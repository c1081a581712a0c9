"""What changed from one plan to another, pier by pier, and which printed sheets are void."""
