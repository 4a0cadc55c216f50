"""Benchmarks: run by hand, printed as ratios to named baselines, never timed in tests."""
