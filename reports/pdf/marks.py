"""Marks that stand beside a word: drawn in one ink, told apart by shape, so a fax or a grey printer loses nothing."""

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable

INK = HexColor("#17212b")
# disc: it holds. half: it holds with limits. ring: only said. struck: it does not. dashed: nothing known.
SHAPES = {
    "pass": "disc",
    "pass with limits": "half",
    "fail": "struck",
    "void": "dashed",
    "proven": "disc",
    "claimed": "ring",
    "limited": "half",
    "failed": "struck",
    "stale": "hand",
    "in doubt": "struck",
    "not recorded": "dashed",
    "not shown": "dashed",
    "not run": "dashed",
    "whole": "disc",
    "down": "struck",
}


class Mark(Flowable):
    """One mark, drawn on the canvas itself: a reportlab Drawing would name a font that is not embedded."""

    def __init__(self, shape: str, size: float) -> None:
        super().__init__()
        self.shape, self.width, self.height = shape, size, size

    def draw(self) -> None:
        pen, size = self.canv, self.width
        centre, radius = size / 2, size * 0.42
        pen.setStrokeColor(INK)
        pen.setFillColor(INK)
        pen.setLineWidth(size * 0.1)
        if self.shape == "dashed":
            pen.setDash(size * 0.16, size * 0.14)
        pen.circle(centre, centre, radius, stroke=1, fill=self.shape == "disc")
        if self.shape == "half":
            pen.wedge(centre - radius, centre - radius, centre + radius, centre + radius, -90, 180, stroke=0, fill=1)
        elif self.shape == "struck":
            pen.setLineWidth(size * 0.15)
            pen.line(0, 0, size, size)
        elif self.shape == "hand":
            pen.line(centre, centre, centre, centre + radius)
            pen.line(centre, centre, centre + radius * 0.7, centre)


def mark(word: str, size: float) -> Mark:
    """Return the mark of a word, ``size`` points high; a word without a mark of its own gets the dashed ring."""
    return Mark(SHAPES.get(word.lower(), "dashed"), size)
