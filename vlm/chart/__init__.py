"""Smooth functions of the folds, kept at a few of them."""
