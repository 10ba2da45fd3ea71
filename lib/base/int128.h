/*
 * int128: whole numbers of 128 bits, which gcc and clang have on every 64-bit machine. They are no
 * part of C11, so the names stand here once.
 */
#ifndef THRUM_BASE_INT128_H
#define THRUM_BASE_INT128_H

__extension__ typedef __int128 int128;
__extension__ typedef unsigned __int128 uint128;

#endif
