#![allow(missing_docs, clippy::print_stdout)]
use seamstep::scale::*;
fn main(){ for f in std::env::args().skip(1){
 let px=image::open(&f).unwrap().into_rgb8(); let photo=seamstep::photo::Photo{name:f.clone(),pixels:px};
 let mut levels=vec![shades::Shades::new(image::imageops::grayscale(&photo.pixels),1.0)];
 for _ in 0..3 { let l=levels.last().unwrap().halved(); levels.push(l);}
 let fs=finders::find(&levels);
 println!("{f}"); for (k,x) in fs.iter().enumerate(){println!("  {k} {:?} module {:.2} rows {} level {}",x.middle.map(|v|v.round()),x.module_px,x.rows,x.level);}
 for s in locate::threes(&levels,&fs){println!("  three {:?} n {} agree {:.2}",s.finders,s.pattern.modules,s.agreement);}
 for s in locate::twos(&levels,&fs,&vec![false;fs.len()]){
   let d=Some(refine::draw_in(&photo,&s.pattern,&s.start,|h|s.pattern.agreement(&locate::dark_at(&levels[0],h,25))));
   println!("  two {:?} agree {:.2} drawn {:?}",s.finders,s.agreement,d.map(|d|s.pattern.agreement(&locate::dark_at(&levels[0],&d,25))));
   if let Some(d)=d { let dark=locate::dark_at(&levels[0],&d,25); let mut v:Vec<(f64,u32)>=printed::all().iter().map(|(s,p)|(pattern::Pattern::whole(25,p).agreement(&dark),*s)).collect(); v.sort_by(|a,b|b.0.total_cmp(&a.0)); println!("     {:?}",&v[..3]); }
 }
}}
