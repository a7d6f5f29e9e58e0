/* Fails one system call of a process, and every later one where it is asked to: a full or broken
   disk. Only calls on files below FAULT_FOLDER count. FAULT_AT is the call, from 1 (0: none),
   FAULT_ERROR its errno; how many calls there were is written to FAULT_COUNT. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static int calls;

static int fails(const char *path)
{
    const char *folder = getenv("FAULT_FOLDER"), *at = getenv("FAULT_AT");
    if (!folder || !at || strncmp(path, folder, strlen(folder)))
        return 0;
    calls++;
    if (!atoi(at) || calls < atoi(at))
        return 0;
    errno = atoi(getenv("FAULT_ERROR"));
    return 1;
}

static int fails_at(int fd)
{
    char name[64], path[4096];
    snprintf(name, sizeof name, "/proc/self/fd/%d", fd);
    ssize_t size = readlink(name, path, sizeof path - 1);
    if (size < 0)
        return 0;
    path[size] = 0;
    return fails(path);
}

__attribute__((destructor)) static void tell(void)
{
    const char *place = getenv("FAULT_COUNT");
    FILE *file = place ? fopen(place, "w") : NULL;
    if (file) {
        fprintf(file, "%d", calls);
        fclose(file);
    }
}

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))
#define ON_FD(type, name, given, passed)              \
    type name given                                   \
    {                                                 \
        return fails_at(fd) ? -1 : REAL(name) passed; \
    }
#define ON_PATH(name, given, passed)                \
    int name given                                  \
    {                                               \
        return fails(path) ? -1 : REAL(name) passed; \
    }

ON_FD(ssize_t, write, (int fd, const void *data, size_t size), (fd, data, size))
ON_FD(ssize_t, pwrite, (int fd, const void *data, size_t size, off_t at), (fd, data, size, at))
ON_FD(ssize_t, pwrite64, (int fd, const void *data, size_t size, off64_t at), (fd, data, size, at))
ON_FD(ssize_t, pread, (int fd, void *data, size_t size, off_t at), (fd, data, size, at))
ON_FD(ssize_t, pread64, (int fd, void *data, size_t size, off64_t at), (fd, data, size, at))
ON_FD(int, fsync, (int fd), (fd))
ON_FD(int, fdatasync, (int fd), (fd))
ON_FD(int, ftruncate, (int fd, off_t size), (fd, size))
ON_FD(int, ftruncate64, (int fd, off64_t size), (fd, size))
ON_PATH(rename, (const char *path, const char *other), (path, other))
ON_PATH(link, (const char *path, const char *other), (path, other))
ON_PATH(unlink, (const char *path), (path))
