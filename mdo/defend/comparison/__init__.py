"""The comparison with geared and hydraulic hinges."""
