/* Stands before the C library: while the file named by SLOW_SYNC_WHILE is there, every sync takes
   three seconds more, as on a worn flash card. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdlib.h>
#include <unistd.h>

static void wait_first(void)
{
    const char *sign = getenv("SLOW_SYNC_WHILE");
    if (sign && access(sign, F_OK) == 0)
        sleep(3);
}

int fdatasync(int fd)
{
    static int (*real)(int);
    if (!real)
        real = (int (*)(int))dlsym(RTLD_NEXT, "fdatasync");
    wait_first();
    return real(fd);
}

int fsync(int fd)
{
    static int (*real)(int);
    if (!real)
        real = (int (*)(int))dlsym(RTLD_NEXT, "fsync");
    wait_first();
    return real(fd);
}
