/* What the small board says of itself on a line of 115 200 baud, for a PC that compares. */
#define ABOUT about_115200
#define LINE_115200
#include "../atmega328p/about.c"
