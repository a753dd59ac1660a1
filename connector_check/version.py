"""The version of this program: written here, read by the build."""

VERSION = "0.2.0"
