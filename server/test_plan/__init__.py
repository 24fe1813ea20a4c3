"""A test plan: what is tested, for how long and by which limits; judged from what its runs have to say."""
