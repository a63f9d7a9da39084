//! The `seamstep` command.
use seamstep::*;
#[allow(clippy::print_stdout)]
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let photo = match photo::read(std::path::Path::new(&a[2]), &photo::Limits::default()) { Ok(p)=>p, Err(e)=>{println!("{}", serde_json::json!({"refused":{"code":format!("{e}")}})); return;} };
    let mut req = scale::ScaleRequest::Auto;
    let mut sr = seam::SeamRequest::default();
    let nums = |s:&str| -> Vec<f64> { s.split(|c:char| c==','||c==' ').filter_map(|x| x.parse().ok()).collect() };
    let mut i=3;
    while i<a.len() { match a[i].as_str() {
        "--length" => { let v=nums(&a[i+1]); req=scale::ScaleRequest::Length{ends_px:[units::PxPoint::new(v[0],v[1]),units::PxPoint::new(v[2],v[3])],length_mm:v[4]}; i+=1;}
        "--repeat" => { req=scale::ScaleRequest::Repeat{repeat_mm:a[i+1].parse().unwrap()}; i+=1;}
        "--seam" => { let v=nums(&a[i+1]); sr.points_px=v.chunks(2).map(|c| units::PxPoint::new(c[0],c[1])).collect(); i+=1;}
        _=>{} } i+=1; }
    match run(&photo,&req,&sr) { Ok(v)=>println!("{v}"), Err(e)=>println!("{}", serde_json::json!({"refused":{"code":format!("{e}")}})) }
}
fn run(photo:&photo::Photo, req:&scale::ScaleRequest, sr:&seam::SeamRequest)->Result<serde_json::Value,problem::Problem>{
    let mut plane = scale::read(photo, req)?;
    if let scale::ScaleRequest::Repeat{repeat_mm}=req {
        let seam=seam::place(photo,&plane,sr)?; let st=strip::cut(photo,&plane,&seam)?; let l=lines::measure(&st)?;
        let (r,u)=l.repeat_mm().ok_or(problem::Problem::usage("norepeat",""))?;
        plane=plane.with_repeat(r,u,*repeat_mm);
    }
    let seam=seam::place(photo,&plane,sr)?;
    let strips=strip::cut(photo,&plane,&seam)?;
    let lines=lines::measure(&strips)?;
    let o=offset::measure(&plane,&seam,&strips,&lines)?;
    if std::env::var_os("SEAMSTEP_TRACE").is_some() { eprintln!("mmpx {} rel {} tilt {:?} gap {:?} slopes {} {} lines {:?}", plane.mm_per_px, plane.relative_uncertainty, plane.tilt_rad.map(f64::to_degrees), lines::slope::gap_mm([lines.sides[0].fold_mm,lines.sides[1].fold_mm]), lines.sides[0].slope, lines.sides[1].slope, o.lines.iter().map(|l| (l.along_mm.round(), l.width_mm, l.colour, l.offset_mm)).collect::<Vec<_>>()); }
    let pts: Vec<[f64;2]> = (0..20).map(|k| { let p=plane.to_px(seam.at(seam.length_mm()*k as f64/19.0,0.0)); [p.x,p.y]}).collect();
    Ok(serde_json::json!({"offset":{"mean_mm":o.mean_mm,"expanded_uncertainty_mm":o.expanded_uncertainty_mm},
      "readings": o.readings.iter().map(|r| serde_json::json!({"x_px":r.at_px.x,"y_px":r.at_px.y,"offset_mm":r.offset_mm,"expanded_uncertainty_mm":r.expanded_uncertainty_mm,"along_mm":r.along_mm})).collect::<Vec<_>>(),
      "seam":{"points_px":pts},"sides":[{"repeat_mm":lines.sides[0].repeat_mm},{"repeat_mm":lines.sides[1].repeat_mm}],"verdict":{"result":"unsure"}}))
}
