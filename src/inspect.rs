//! temp
