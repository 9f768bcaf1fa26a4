"""What a calculation says when it cannot answer. Every message names the key it is about."""


class EngineeringError(ValueError):
    """Base of all refusals: `key` is the input at fault, `message` says what would be right."""

    def __init__(self, key: str, message: str) -> None:
        self.key = key
        self.message = message
        super().__init__(f"{key}: {message}")


class OutOfRange(EngineeringError):
    """A value outside the range the method holds for. Never clamped, never extrapolated."""


class MissingInput(EngineeringError):
    """A value without which there is no answer."""


class WrongUnit(EngineeringError):
    """A value whose unit has another dimension, or none."""


class WrongInput(EngineeringError):
    """Text that is not a value of this kind: an unknown word, a doubled key, nan, inf."""
