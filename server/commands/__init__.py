"""What the command line does, one file a command. Imported only when its command was chosen."""
