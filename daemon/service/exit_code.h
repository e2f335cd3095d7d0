/* How the program ends: the same codes for every command. */
#pragma once

enum exit_code {
    EXIT_FINE = 0,
    EXIT_REFUSED = 1,  /* an input is not valid: the message says where and why */
    EXIT_UNUSABLE = 2, /* wrong options, or a file, port or store that can't be used */
    EXIT_NO_MEMORY = 3,
};
