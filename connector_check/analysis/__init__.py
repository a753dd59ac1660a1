"""Inference from readings to findings, verdict and rework. Pure: no clock, file or terminal."""
