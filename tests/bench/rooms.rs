//! What each room of the corridor costs, and the whole of it: `cargo bench --bench rooms` (a filter may follow).
//!
//! `by_size` asks it of one photograph at 3, 12 and 48 megapixels, `by_length` of one photograph of which ever more of the
//! seam is given. A room is handed what the rooms before it made, so that the rooms of a row come to its `whole`.
#![allow(missing_docs)]

mod walked;

use divan::{Bencher, black_box};
use seamstep::photo::{self, Limits, sharpness};
use seamstep::remedy::{self, Evidence};
use seamstep::verdict;
use seamstep::{inspect, lines, offset, report, scale, seam, strip, threads};
use walked::{LENGTHS_MM, SIZES_MP, Walked, of_length, of_size};

fn main() {
    // Where a check does its work: halves of it are called from within the pool.
    threads::together(divan::main);
}

#[divan::bench_group(sample_size = 1, sample_count = 9, max_time = 5)]
mod by_size {
    use super::*;

    #[divan::bench(args = SIZES_MP)]
    fn photo(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        bencher.bench_local(|| walked.decode());
    }

    #[divan::bench(args = SIZES_MP)]
    fn sharpness(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        bencher.bench_local(|| sharpness::check(black_box(&walked.photo)).expect("sharp"));
    }

    #[divan::bench(args = SIZES_MP)]
    fn scale(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        bencher.bench_local(|| scale::read(&walked.photo, black_box(&walked.question.scale)).expect("a card"));
    }

    #[divan::bench(args = SIZES_MP)]
    fn seam_given(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        bencher.bench_local(|| walked.place());
    }

    #[divan::bench(args = SIZES_MP)]
    fn seam_found(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        let find = seam::SeamRequest::default();
        bencher.bench_local(|| seam::place(&walked.photo, &walked.plane, black_box(&find)).expect("a seam"));
    }

    #[divan::bench(args = SIZES_MP)]
    fn strip(bencher: Bencher, size_mp: u32) {
        of_size(size_mp).bench_strip(bencher);
    }

    #[divan::bench(args = SIZES_MP)]
    fn lines(bencher: Bencher, size_mp: u32) {
        of_size(size_mp).bench_lines(bencher);
    }

    #[divan::bench(args = SIZES_MP)]
    fn offset(bencher: Bencher, size_mp: u32) {
        of_size(size_mp).bench_offset(bencher);
    }

    #[divan::bench(args = SIZES_MP)]
    fn verdict(bencher: Bencher, size_mp: u32) {
        let Walked { plane, finding, question, .. } = of_size(size_mp);
        bencher.bench_local(|| verdict::decide(plane, &finding.seam, black_box(&finding.offset), &question.demand));
    }

    #[divan::bench(args = SIZES_MP)]
    fn remedy(bencher: Bencher, size_mp: u32) {
        let Walked { plane, finding, question, .. } = of_size(size_mp);
        bencher.bench_local(|| {
            let evidence = Evidence {
                plane,
                seam: &finding.seam,
                lines: &finding.lines,
                offset: &finding.offset,
                verdict: &finding.verdict,
            };
            remedy::work_out(black_box(evidence), question.stage, &question.rules)
        });
    }

    #[divan::bench(args = SIZES_MP)]
    fn text(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        bencher.bench_local(|| report::text::finding(black_box(&walked.finding), true));
    }

    #[divan::bench(args = SIZES_MP)]
    fn json(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        bencher.bench_local(|| report::json::finding(black_box(&walked.finding)).to_string());
    }

    #[divan::bench(args = SIZES_MP)]
    fn picture(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        bencher.bench_local(|| {
            report::jpeg(&report::picture::annotate(&walked.photo.pixels, black_box(&walked.finding))).expect("a JPEG")
        });
    }

    #[divan::bench(args = SIZES_MP)]
    fn page(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        bencher.bench_local(|| report::html::page(&walked.photo.pixels, black_box(&walked.finding)).expect("a page"));
    }

    #[divan::bench(args = SIZES_MP)]
    fn whole_given(bencher: Bencher, size_mp: u32) {
        of_size(size_mp).bench_whole(bencher);
    }

    #[divan::bench(args = SIZES_MP)]
    fn whole_found(bencher: Bencher, size_mp: u32) {
        let walked = of_size(size_mp);
        let question = inspect::Question { seam: seam::SeamRequest::default(), ..walked.question.clone() };
        bencher.bench_local(|| inspect::inspect(&walked.decode(), black_box(&question)).expect("a finding"));
    }
}

#[divan::bench_group(sample_size = 1, sample_count = 9, max_time = 5)]
mod by_length {
    use super::*;

    #[divan::bench(args = LENGTHS_MM)]
    fn strip(bencher: Bencher, length_mm: u32) {
        of_length(length_mm).bench_strip(bencher);
    }

    #[divan::bench(args = LENGTHS_MM)]
    fn lines(bencher: Bencher, length_mm: u32) {
        of_length(length_mm).bench_lines(bencher);
    }

    #[divan::bench(args = LENGTHS_MM)]
    fn offset(bencher: Bencher, length_mm: u32) {
        of_length(length_mm).bench_offset(bencher);
    }

    #[divan::bench(args = LENGTHS_MM)]
    fn whole_given(bencher: Bencher, length_mm: u32) {
        of_length(length_mm).bench_whole(bencher);
    }
}

impl Walked {
    fn decode(&self) -> photo::Photo {
        photo::from_bytes("bench".into(), black_box(&self.jpeg), &Limits::default()).expect("a photograph")
    }

    fn place(&self) -> seam::Seam {
        seam::place(&self.photo, &self.plane, black_box(&self.question.seam)).expect("a seam")
    }

    fn bench_strip(&self, bencher: Bencher) {
        bencher.bench_local(|| strip::cut(&self.photo, &self.plane, black_box(&self.finding.seam)).expect("strips"));
    }

    fn bench_lines(&self, bencher: Bencher) {
        bencher.bench_local(|| lines::measure(black_box(&self.strips)).expect("lines"));
    }

    fn bench_offset(&self, bencher: Bencher) {
        let Self { plane, finding, strips, .. } = self;
        bencher.bench_local(|| {
            offset::measure(plane, &finding.seam, strips, black_box(&finding.lines)).expect("an offset")
        });
    }

    fn bench_whole(&self, bencher: Bencher) {
        bencher.bench_local(|| inspect::inspect(&self.decode(), black_box(&self.question)).expect("a finding"));
    }
}
