"""What is ordered: tubes, deviations from whole numbers, acceptance tests."""
