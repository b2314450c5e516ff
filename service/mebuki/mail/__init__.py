"""Notices become messages."""
