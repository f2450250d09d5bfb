"""Files into domain values: every fault listed at once, doubts carried along."""
