"""Tests of the invented hospital and its stream."""
