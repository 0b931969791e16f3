"""The few kinds of error. Each message is one plain line: where, what was seen, what to do.

The command line prints the message alone and leaves with `exit_code`; nothing else in the
project may let a traceback reach the studio.
"""


class EnvwatchError(Exception):
    """Anything envwatch refuses to do, said in one line that a practitioner can act on."""

    exit_code = 1

    def __init__(self, message: str) -> None:
        one_line = " ".join(str(message).split())  # what a file holds may be quoted in it: no control characters
        super().__init__("".join(c if c.isprintable() else "?" for c in one_line))


class BadInput(EnvwatchError):
    """A file, a row or an argument that cannot be used as it is."""

    exit_code = 2


class Question(EnvwatchError):
    """Input that can be read in more than one way, and only a person can say which.

    Parameters
    ----------
    message : the question, with what was seen.
    option : the command-line option that answers it, such as ``--dates``.
    choices : the answers that option takes here.
    """

    exit_code = 3

    def __init__(self, message: str, option: str, choices: tuple[str, ...] = ()) -> None:
        self.option = option
        self.choices = choices
        answer = f"{option} {'|'.join(choices)}" if choices else option
        super().__init__(f"{message} Answer with {answer}")


class NotThere(EnvwatchError):
    """A painting, place, logger or period that the studio folder does not hold."""

    exit_code = 4


class StudioError(EnvwatchError):
    """A studio folder that cannot be opened, written or trusted as it stands."""

    exit_code = 5
