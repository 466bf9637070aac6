"""Tests of the network against independent searches over small vessels."""
