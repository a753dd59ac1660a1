"""The version of this program: written here, read by the build."""

__version__ = "0.2.0"
