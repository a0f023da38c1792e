"""What the trade layer says when it will not do something.

CoreError
    Refused             a known reason, one sentence, shown to the person as it is
        BadInput        something written down cannot be read; carries its place
        NotAllowed      a rule forbids the act
"""

from rehang.calc.errors import CoreError

__all__ = ["BadInput", "CoreError", "NotAllowed", "Refused"]


class Refused(CoreError):
    """A known reason not to go on, said in one sentence. ``where`` is empty but for ``BadInput``."""

    where: str = ""

    @property
    def sentence(self) -> str:
        """The reason alone, without the place that it is about."""
        return str(self)


class BadInput(Refused):
    """Something written down cannot be read.

    Parameters
    ----------
    sentence : str
        What was given and what to do.
    where : str
        File and line, or field; put in front of the sentence.
    """

    def __init__(self, sentence: str, where: str = "") -> None:
        self._sentence = sentence
        self.where = where
        super().__init__(f"{where}: {sentence}" if where else sentence)

    @property
    def sentence(self) -> str:
        return self._sentence


class NotAllowed(Refused):
    """A rule forbids the act; the sentence says why and what to do instead."""
