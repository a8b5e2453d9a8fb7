/* Stands before the C library: while the file named by FAIL_WHILE is there, calls to the system on
   files below FAIL_FOLDER fail now and then, each with one of the errors that its manual page lists.
   One in FAIL_ONE_IN fails, 4 if that is not said; which, is told by FAIL_SEED. Each that failed adds a byte to the file named by FAIL_COUNT.
   With FAIL_DENIES only those fail that ask about a file, and it is said not to be there. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/syscall.h>
#include <unistd.h>

static _Atomic uint64_t calls;
static __thread int inside;

static uint64_t mixed(uint64_t x)
{
    /* splitmix64 */
    x += 0x9e3779b97f4a7c15ull;
    x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9ull;
    x = (x ^ (x >> 27)) * 0x94d049bb133111ebull;
    return x ^ (x >> 31);
}

static void count(void)
{
    const char *path = getenv("FAIL_COUNT");
    int fd = path ? (int)syscall(SYS_openat, AT_FDCWD, path, O_WRONLY | O_APPEND | O_CREAT, 0600) : -1;
    if (fd >= 0) {
        syscall(SYS_write, fd, "x", 1);
        syscall(SYS_close, fd);
    }
}

static const int opening[] = {EACCES, EMFILE, ENFILE, EIO, ENOSPC, EROFS, EDQUOT, ENOMEM};
static const int writing[] = {EIO, ENOSPC, EDQUOT, EROFS, EFBIG};
static const int syncing[] = {EIO, ENOSPC, EDQUOT, EROFS};
static const int looking[] = {EACCES, EIO, ENOMEM, ELOOP, ENOENT};
static const int moving[] = {EACCES, EBUSY, EIO, ENOSPC, EROFS, EPERM};

/* Whether this call fails; then errno is set. */
static int fails(const char *path, const int *errors, int n)
{
    const char *sign = getenv("FAIL_WHILE"), *folder = getenv("FAIL_FOLDER");
    if (inside || !sign || !folder || !path || strncmp(path, folder, strlen(folder)) ||
        syscall(SYS_faccessat, AT_FDCWD, sign, F_OK) ||
        (getenv("FAIL_DENIES") && errors != looking))
        return 0;
    const char *seed = getenv("FAIL_SEED");
    uint64_t dice = mixed((seed ? strtoull(seed, 0, 10) : 0) * 1000003ull + ++calls);
    const char *one_in = getenv("FAIL_ONE_IN");
    if (dice % (one_in ? strtoull(one_in, 0, 10) : 4))
        return 0;
    inside = 1;
    count();
    inside = 0;
    errno = getenv("FAIL_DENIES") ? ENOENT : errors[(dice >> 32) % (uint64_t)n];
    return 1;
}

static int fails_fd(int fd, const int *errors, int n)
{
    char link[40], path[4096];
    if (!getenv("FAIL_WHILE"))
        return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = syscall(SYS_readlinkat, AT_FDCWD, link, path, sizeof path - 1);
    if (length < 0)
        return 0;
    path[length] = 0;
    return fails(path, errors, n);
}

#define REAL(name) \
    static __typeof__(name) *real; \
    if (!real) \
        real = (__typeof__(name) *)dlsym(RTLD_NEXT, #name)
#define COUNT(errors) (int)(sizeof errors / sizeof *errors)

#define OPENER(name) \
    int name(const char *path, int flags, ...) \
    { \
        REAL(name); \
        va_list more; \
        va_start(more, flags); \
        mode_t mode = (flags & (O_CREAT | __O_TMPFILE)) ? va_arg(more, mode_t) : 0; \
        va_end(more); \
        return fails(path, opening, COUNT(opening)) ? -1 : real(path, flags, mode); \
    }
OPENER(open)
OPENER(open64)

#define ON_FD(result, name, errors, args, ...) \
    result name args \
    { \
        REAL(name); \
        return fails_fd(fd, errors, COUNT(errors)) ? -1 : real(__VA_ARGS__); \
    }
ON_FD(ssize_t, write, writing, (int fd, const void *data, size_t n), fd, data, n)
ON_FD(ssize_t, pwrite, writing, (int fd, const void *data, size_t n, off_t at), fd, data, n, at)
ON_FD(ssize_t, pwrite64, writing, (int fd, const void *data, size_t n, off64_t at), fd, data, n, at)
ON_FD(int, fsync, syncing, (int fd), fd)
ON_FD(int, fdatasync, syncing, (int fd), fd)
ON_FD(int, ftruncate, writing, (int fd, off_t n), fd, n)
ON_FD(int, ftruncate64, writing, (int fd, off64_t n), fd, n)
ON_FD(int, fstat, looking, (int fd, struct stat *found), fd, found)
ON_FD(int, fstat64, looking, (int fd, struct stat64 *found), fd, found)

#define ON_PATH(name, errors, args, ...) \
    int name args \
    { \
        REAL(name); \
        return fails(path, errors, COUNT(errors)) ? -1 : real(__VA_ARGS__); \
    }
ON_PATH(stat, looking, (const char *path, struct stat *found), path, found)
ON_PATH(stat64, looking, (const char *path, struct stat64 *found), path, found)
ON_PATH(lstat, looking, (const char *path, struct stat *found), path, found)
ON_PATH(lstat64, looking, (const char *path, struct stat64 *found), path, found)
ON_PATH(statvfs, looking, (const char *path, struct statvfs *found), path, found)
ON_PATH(statvfs64, looking, (const char *path, struct statvfs64 *found), path, found)
ON_PATH(unlink, moving, (const char *path), path)
ON_PATH(mkdir, moving, (const char *path, mode_t mode), path, mode)
ON_PATH(rename, moving, (const char *path, const char *to), path, to)
ON_PATH(link, moving, (const char *path, const char *to), path, to)

int posix_fallocate(int fd, off_t at, off_t n)
{
    REAL(posix_fallocate);
    return fails_fd(fd, writing, COUNT(writing)) ? errno : real(fd, at, n);
}

int posix_fallocate64(int fd, off64_t at, off64_t n)
{
    REAL(posix_fallocate64);
    return fails_fd(fd, writing, COUNT(writing)) ? errno : real(fd, at, n);
}
