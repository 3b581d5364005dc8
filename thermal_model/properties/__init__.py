"""Fitted property functions of water, ice and moist air."""
