/* Which version of SPEC.md this code speaks. A test holds it against the codec in Python. */
#ifndef VERSION_H
#define VERSION_H

#define PROTOCOL_MAJOR 1
#define PROTOCOL_MINOR 0

#endif
