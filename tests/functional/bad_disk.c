/* Stands before the C library: while the file named by BAD_DISK_WHILE is there, what is written below
   the folder named by BAD_DISK, or by BAD_DISK_TOO, does what that file says: "freeze" waits until it
   is gone, "slow N" waits N ms, "error N" fails with that errno. Reading goes on, as on a file system
   that is frozen; with "hang" it waits too, and so does opening, as on a disk that has died. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

static int below(const char *path, const char *folder)
{
    return folder && strncmp(path, folder, strlen(folder)) == 0;
}

/* Waits as long as is to be waited at this path; gives the errno to fail with, or 0. */
static int fault_at(const char *path, int reads)
{
    const char *sign = getenv("BAD_DISK_WHILE");
    char said[64] = "";
    if (!sign || access(sign, F_OK) != 0)
        return 0;
    if (!below(path, getenv("BAD_DISK")) && !below(path, getenv("BAD_DISK_TOO")))
        return 0;
    int file = syscall(SYS_openat, AT_FDCWD, sign, O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return 0;
    ssize_t length = syscall(SYS_read, file, said, sizeof said - 1);
    syscall(SYS_close, file);
    if (length <= 0 || (reads && strncmp(said, "hang", 4) != 0))
        return 0;
    if (strncmp(said, "freeze", 6) == 0 || strncmp(said, "hang", 4) == 0)
        while (access(sign, F_OK) == 0)
            usleep(5000);
    else if (strncmp(said, "slow ", 5) == 0)
        usleep(1000 * atoi(said + 5));
    else if (strncmp(said, "error ", 6) == 0)
        return atoi(said + 6);
    return 0;
}

static int fault_of(int fd, int reads)
{
    char link[64], path[PATH_MAX];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0)
        return 0;
    path[length] = 0;
    return fault_at(path, reads);
}

#define REAL(name, type) \
    static __typeof__((type)0) real; \
    if (!real) \
        real = (type)dlsym(RTLD_NEXT, #name); \
    int fault = fault_of(fd, 0); \
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

ssize_t read(int fd, void *data, size_t count)
{
    fault_of(fd, 1);
    return syscall(SYS_read, fd, data, count);
}

ssize_t pread64(int fd, void *data, size_t count, off64_t at)
{
    fault_of(fd, 1);
    return syscall(SYS_pread64, fd, data, count, at);
}

static int opened(const char *path, int flags, mode_t mode)
{
    if (path[0] == '/')
        fault_at(path, 1);
    return syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}

#define OPEN(name) \
    int name(const char *path, int flags, ...) \
    { \
        va_list more; \
        va_start(more, flags); \
        mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(more, mode_t) : 0; \
        va_end(more); \
        return opened(path, flags, mode); \
    }

OPEN(open)
OPEN(open64)
