"""Work in chunks: kept, taken up, done by several processes, killed at random moments."""
