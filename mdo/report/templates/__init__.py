"""What pages are made of: HTML, style and scripts."""

from pathlib import Path

FOLDER = Path(__file__).parent


def template_text(name: str) -> str:
    """Text of a style sheet or script in this folder."""
    return (FOLDER / name).read_text(encoding="utf-8")
