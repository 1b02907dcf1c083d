"""Shared controls and charts."""
