/* What the small board says of itself on its line of 250 000 baud, for a PC that compares. */
#define ABOUT about_250000
#include "../atmega328p/about.c"
