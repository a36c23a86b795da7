"""Everything in kneeside that is true without a screen."""

__version__ = "0.1.0"
