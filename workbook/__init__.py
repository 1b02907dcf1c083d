"""Size, check, build and verify lithium-ion packs for model aircraft."""

__version__ = "0.1.0"
