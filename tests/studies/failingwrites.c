/* Lets the n-th operation that changes a regular file fail, for tests.studies.failingwrites.

   fail_after(n, error, stay, half): n operations succeed, the next fails with the error; with
   `stay` all that follow fail, too; with `half` a failing write has written its first half. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdio.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

static int armed, left, error_number, stays, halves, failed;

void fail_after(int n, int error, int stay, int half) {
    left = n; error_number = error; stays = stay; halves = half; failed = 0; armed = 1;
}

int operations_failed(void) { return failed; }

static int due(int descriptor) {
    struct stat facts;
    if (!armed) return 0;
    if (descriptor >= 0 && (fstat(descriptor, &facts) != 0 ||
                            !(S_ISREG(facts.st_mode) || S_ISDIR(facts.st_mode))))
        return 0;
    if (left > 0) { left--; return 0; }
    if (!stays) armed = 0;
    failed++;
    return 1;
}

#define REAL(name) __typeof__(name) *real = (__typeof__(name) *)dlsym(RTLD_NEXT, #name)

ssize_t write(int fd, const void *from, size_t n) {
    REAL(write);
    if (!due(fd)) return real(fd, from, n);
    if (halves) real(fd, from, n / 2);
    errno = error_number;
    return -1;
}
ssize_t pwrite(int fd, const void *from, size_t n, off_t at) {
    REAL(pwrite);
    if (!due(fd)) return real(fd, from, n, at);
    if (halves) real(fd, from, n / 2, at);
    errno = error_number;
    return -1;
}
ssize_t pwrite64(int fd, const void *from, size_t n, off64_t at) {
    REAL(pwrite64);
    if (!due(fd)) return real(fd, from, n, at);
    if (halves) real(fd, from, n / 2, at);
    errno = error_number;
    return -1;
}
#define FAILING(name, parameters, arguments, fd) \
    int name parameters { \
        REAL(name); \
        if (!due(fd)) return real arguments; \
        errno = error_number; \
        return -1; \
    }
FAILING(fsync, (int fd), (fd), fd)
FAILING(fdatasync, (int fd), (fd), fd)
FAILING(ftruncate, (int fd, off_t n), (fd, n), fd)
FAILING(ftruncate64, (int fd, off64_t n), (fd, n), fd)
FAILING(rename, (const char *from, const char *to), (from, to), -1)
