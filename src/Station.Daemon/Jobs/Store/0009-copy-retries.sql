-- A copy that could not be made is tried again after a wait that doubles with each try: the count is stored before the try, so that a process that dies of it waits too.
ALTER TABLE bag_copies ADD COLUMN tries       INTEGER NOT NULL DEFAULT 0;   -- tries since the last one that ended with a proved copy
ALTER TABLE bag_copies ADD COLUMN next_try_at INTEGER NOT NULL DEFAULT 0;   -- only of copies that are behind; 0: at once
