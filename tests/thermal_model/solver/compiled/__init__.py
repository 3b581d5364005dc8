"""Tests of the compiled stepper."""
