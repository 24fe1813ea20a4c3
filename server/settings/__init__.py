"""The settings of a rig as a person writes them: TOML text with the line of every key, and its file."""
