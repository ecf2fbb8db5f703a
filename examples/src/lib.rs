//! Lessons for two boards that run on a laptop; see the files beside this one.
