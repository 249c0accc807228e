// The public header stands alone in C++ as old as C++98.
#include "faultodds.h"

int header_compiles_as_cxx();
int header_compiles_as_cxx() { return FAULTODDS_OK; }
