"""Which test comes next: what each cause shows on each test, and from it the test that settles most a minute."""
