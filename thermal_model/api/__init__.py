"""The public functions: what they are given is read here, in any unit, and handed on in SI."""
