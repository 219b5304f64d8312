"""Mass of every line, growth, and the conventional hinges of the comparison."""
