// This edition had no such file yet.
