"""The words by which calls are read, and how they are found in text."""

from pipeline.lexicon.lexicon import Lexicon, load_lexicon
from pipeline.lexicon.lighting import LightingVerdict

__all__ = ["Lexicon", "LightingVerdict", "load_lexicon"]
