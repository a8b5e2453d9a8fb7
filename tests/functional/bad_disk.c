/* Stands before the C library: while the file named by BAD_DISK_WHILE is there, what is written below
   the folder named by BAD_DISK does what that file says: "freeze" waits until it is gone, "slow N"
   waits N ms, "error N" fails with that errno. Reading goes on, as on a file system that is frozen. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static int fault_of(int fd)
{
    const char *sign = getenv("BAD_DISK_WHILE"), *folder = getenv("BAD_DISK");
    char link[64], path[PATH_MAX], said[64] = "";
    if (!sign || !folder || access(sign, F_OK) != 0)
        return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0)
        return 0;
    path[length] = 0;
    if (strncmp(path, folder, strlen(folder)) != 0)
        return 0;
    FILE *file = fopen(sign, "r");
    if (!file)
        return 0;
    char *line = fgets(said, sizeof said, file);
    fclose(file);
    if (!line)
        return 0;
    if (strncmp(said, "freeze", 6) == 0)
        while (access(sign, F_OK) == 0)
            usleep(5000);
    else if (strncmp(said, "slow ", 5) == 0)
        usleep(1000 * atoi(said + 5));
    else if (strncmp(said, "error ", 6) == 0)
        return atoi(said + 6);
    return 0;
}

#define REAL(name, type) \
    static __typeof__((type)0) real; \
    if (!real) \
        real = (type)dlsym(RTLD_NEXT, #name); \
    int fault = fault_of(fd); \
    if (fault) { \
        errno = fault; \
        return -1; \
    }

ssize_t write(int fd, const void *data, size_t count)
{
    REAL(write, ssize_t (*)(int, const void *, size_t))
    return real(fd, data, count);
}

ssize_t pwrite(int fd, const void *data, size_t count, off_t at)
{
    REAL(pwrite, ssize_t (*)(int, const void *, size_t, off_t))
    return real(fd, data, count, at);
}

ssize_t pwrite64(int fd, const void *data, size_t count, off64_t at)
{
    REAL(pwrite64, ssize_t (*)(int, const void *, size_t, off64_t))
    return real(fd, data, count, at);
}

int fdatasync(int fd)
{
    REAL(fdatasync, int (*)(int))
    return real(fd);
}

int fsync(int fd)
{
    REAL(fsync, int (*)(int))
    return real(fd);
}

int ftruncate64(int fd, off64_t length)
{
    REAL(ftruncate64, int (*)(int, off64_t))
    return real(fd, length);
}
