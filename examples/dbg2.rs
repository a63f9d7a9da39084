#![allow(missing_docs, clippy::print_stdout)]
use seamstep::scale::*;
fn main(){ for f in std::env::args().skip(1){
 let px=image::open(&f).unwrap().into_rgb8(); let photo=seamstep::photo::Photo{name:f.clone(),pixels:px};
 let t=std::time::Instant::now();
 let s=detect::find(&photo); let t1=t.elapsed().as_secs_f64();
 println!("{f} {:.3}s cards {} others {} unread {:?}",t1,s.cards.len(),s.others,s.unread.len());
 for c in &s.cards { let t=std::time::Instant::now(); let r=refine::refine(&photo,&c.pattern,&c.modules_to_px); let n=c.pattern.modules as f64;
  let cor=|h:&nalgebra::Matrix3<f64>|[[0.,0.],[n,0.],[n,n],[0.,n]].map(|p|homography::apply(h,p).map(|v|(v*10.0).round()/10.));
  println!("  {} mm n {} start {:?} {}",c.side_mm,n,cor(&c.modules_to_px), c.pattern.agreement(&locate::dark_at(&shades::Shades::new(image::imageops::grayscale(&photo.pixels),1.0),&c.modules_to_px,n as usize)));
  if let Some(r)=r { println!("  fit {:?} res {:.3} kept {:.2} {:.3}s",cor(&r.modules_to_px),r.residual,r.kept,t.elapsed().as_secs_f64());} else {println!("  no fit");}
 }
}}
