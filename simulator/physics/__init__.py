"""What all models share: how they are stepped, what feeds them, what they drive, how they warm up."""
