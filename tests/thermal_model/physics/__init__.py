"""Tests of the physics functions."""
