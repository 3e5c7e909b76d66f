/dev/fd/3: line 146: contrast: command not found
