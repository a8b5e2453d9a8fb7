"""Whole screens and pages, laid out from the parts. Pure."""
