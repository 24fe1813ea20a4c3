"""Who may come in, as what, and what each may do: sessions, links, pairing, consent of the PC, the certificate."""
