"""What is heard: tones made by the program itself, and which of them sounds when."""
