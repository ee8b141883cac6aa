"""Attempts to make the program lose or spoil something; long runs are scripts, a share of each is in the tests."""
