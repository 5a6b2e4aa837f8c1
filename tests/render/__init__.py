"""Tests of the way from notebook to PDF."""
