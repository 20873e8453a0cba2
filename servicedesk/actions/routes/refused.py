"""What a change of the week is refused with."""


class RouteRefused(Exception):
    """Nothing was changed; each of `sentences` tells a reader what stands in the way."""

    def __init__(self, *sentences: str):
        super().__init__(" ".join(sentences))
        self.sentences = list(sentences)
