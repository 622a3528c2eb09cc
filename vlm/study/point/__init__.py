"""One setting: point, its errors, its warnings, a session of settings, a map of folds."""
