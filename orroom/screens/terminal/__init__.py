"""What all screens share: the terminal, hands and clicks, keys, the board and its painting."""
