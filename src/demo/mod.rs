//! The whole thing without a photograph: on one rendered seam ([`skirt`]), or on two rendered pieces ([`waistcoat`]).

pub mod skirt;

pub mod waistcoat;
