"""Tests of the calibration."""
