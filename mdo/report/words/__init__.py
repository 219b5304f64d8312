"""Words of page and terminal: summaries, definitions, titles of columns."""
